#!/usr/bin/env bash
# The benchmark of `prove` in one command: takes its peers from the registries, builds them and runs everything.
#   tools/bench-proof/run.sh           the whole table: as many sensors as a minute allows (a quarter of an hour)
#   tools/bench-proof/run.sh --quick   only shows that all of them count and answer alike; nothing is timed
set -euo pipefail
cd "$(dirname "$0")"

# Installs Debian packages, as root or through sudo.
install() {
  local as=()
  [ "$(id -u)" = 0 ] || as=(sudo)
  "${as[@]}" apt-get update -qq >&2
  DEBIAN_FRONTEND=noninteractive "${as[@]}" apt-get install -y -qq --no-install-recommends "$@" >&2
}

command -v spin >/dev/null || install spin
command -v gcc >/dev/null || install gcc libc6-dev

# The profile of a quick check builds in half the time.
profile=release
[ "${1:-}" != --quick ] || profile=quick
cargo build --quiet --locked --profile "$profile"
exec "${CARGO_TARGET_DIR:-target}/$profile/bench-proof" "$@"
