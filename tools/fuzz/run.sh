#!/usr/bin/env bash
# Fuzzes every parser with libFuzzer on a stable compiler, without sanitizers (the code has no unsafe).
#   tools/fuzz/run.sh                          each target for ten minutes
#   tools/fuzz/run.sh --smoke                  each target for half a minute, as CI does
#   FUZZ_SECONDS=36000 tools/fuzz/run.sh wire  one target for ten hours
# What is found stays in tools/fuzz/artifacts; give the file to tools/fuzz/target/…/release/TARGET to see it again.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
top=$(cd "$here/../.." && pwd)
seconds=${FUZZ_SECONDS:-600}
if [ "${1:-}" = --smoke ]; then
  seconds=${FUZZ_SECONDS:-30}
  shift
fi
targets=("$@")
[ "${#targets[@]}" -gt 0 ] || mapfile -t targets < <(sed -n 's/^name = "\(.*\)"$/\1/p' "$here/Cargo.toml" | tail -n +2)

if ! command -v c++ >/dev/null; then
  root=()
  [ "$(id -u)" = 0 ] || root=(sudo)
  "${root[@]}" apt-get update -qq
  DEBIAN_FRONTEND=noninteractive "${root[@]}" apt-get install -y -qq --no-install-recommends g++
fi

# The counters that libFuzzer steers by; --target keeps them out of build scripts.
host=$(rustc -vV | sed -n 's/^host: //p')
# Warnings belong to the ordinary build.
export RUSTFLAGS="-Awarnings --cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
-Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
-Cllvm-args=-sanitizer-coverage-trace-compares -Cllvm-args=-simplifycfg-branch-fold-threshold=0"
cd "$here"
cargo build --quiet --locked --release --target "$host"

found=0
for target in "${targets[@]}"; do
  mkdir -p "corpus/$target" "artifacts/$target"
  # Files that ship are the seeds: mutations of something that nearly works go deepest.
  seeds=(seeds/"$target")
  case $target in
    room_file) find "$top/scenarios" -name room.toml ;;
    site_file) find "$top/scenarios" -name site.toml ;;
    sequence_file) find "$top/scenarios" -name sequence.toml ;;
    scenario_file) find "$top/scenarios" -name '*.toml' ! -name room.toml ! -name sequence.toml ! -name site.toml ;;
  esac 2>/dev/null | while read -r file; do
    cp "$file" "corpus/$target/$(echo "${file#"$top"/}" | tr / -)"
  done || true
  printf '%s: %s s\n' "$target" "$seconds"
  if ! "target/$host/release/$target" "corpus/$target" ${seeds[@]+"${seeds[@]}"} \
    -dict=words.dict -artifact_prefix="artifacts/$target/" -max_total_time="$seconds" \
    -max_len=4096 -timeout=10 -rss_limit_mb=2048 -print_final_stats=1 -verbosity=0 \
    >"artifacts/$target.log" 2>&1; then
    found=$((found + 1))
    tail -n 40 "artifacts/$target.log"
    printf '%s: something was found, see tools/fuzz/artifacts/%s\n' "$target" "$target"
  else
    sed -n 's/^stat::number_of_executed_units: */  tried: /p' "artifacts/$target.log"
  fi
done
[ "$found" = 0 ]
