#!/usr/bin/env bash
# Puts the clauses of the rooms in tools/spin to `roomrig prove` and, as hand-written models in
# discrete time, to the model checker SPIN (G. J. Holzmann, The Model Checker SPIN, IEEE Transactions
# on Software Engineering 23(5), 1997), and compares the verdicts.
# usage: tools/check-spin.sh
set -euo pipefail
cd "$(dirname "$0")/.."
root=$PWD
work=$root/target/spin

# Installs Debian packages, as root or through sudo.
install() {
  local as=()
  [ "$(id -u)" = 0 ] || as=(sudo)
  "${as[@]}" apt-get update -qq >&2
  DEBIAN_FRONTEND=noninteractive "${as[@]}" apt-get install -y -qq --no-install-recommends "$@" >&2
}

command -v spin >/dev/null || install spin
command -v gcc >/dev/null || install gcc libc6-dev

mkdir -p "$work"
pairs=0
wrong=0
for room in tools/spin/*/; do
  name=$(basename "$room")
  # Broken clauses make `prove` end with 1; what it says is looked at below.
  cargo run --quiet --release --locked -- prove "$room" --at-once --format json >"$work/$name.json" || [ $? = 1 ]
  while read -r clause proved; do
    folder=$work/$name-$clause
    mkdir -p "$folder"
    said=$(
      cd "$folder"
      spin -a "-D$clause" "$root/$room/room.pml" >/dev/null
      gcc -O1 -w -DSAFETY -DNOFAIR -o pan pan.c
      ./pan -m1000000 -w22
    )
    case $said in
      *"assertion violated"*) checked=broken ;;
      *"search depth too small"* | *"out of memory"*) checked=undecided ;;
      *"errors: 0"*) checked=proved ;;
      *) checked=undecided ;;
    esac
    pairs=$((pairs + 1))
    if [ "$proved" != "$checked" ]; then
      wrong=$((wrong + 1))
      echo "$name $clause: prove says $proved, spin $checked"
    fi
  done < <(python3 - "$work/$name.json" <<'PYTHON'
import json, sys
for room in json.load(open(sys.argv[1]))["rooms"]:
    for clause in room["clauses"]:
        print(clause["id"], clause["verdict"])
PYTHON
  )
done
echo "spin: $pairs clauses, $wrong verdicts unlike those of prove"
[ "$wrong" = 0 ] && [ "$pairs" -ge 12 ]
