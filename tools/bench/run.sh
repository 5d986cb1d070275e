#!/usr/bin/env bash
# The benchmark in one command: takes its peers from the registries, builds them and runs everything.
#   tools/bench/run.sh            the whole table, medians of five runs (a quarter of an hour)
#   tools/bench/run.sh --runs N   the same with N runs
#   tools/bench/run.sh --quick    only shows that all of them do the same work; nothing is timed
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
BENCH_PYTHON=$("$here/../venv.sh")
export BENCH_PYTHON
cd "$here"
# The profile of a quick check builds in half the time.
profile=release
[ "${1:-}" != --quick ] || profile=quick
cargo build --quiet --locked --profile "$profile"
exec "target/$profile/bench" "$@"
