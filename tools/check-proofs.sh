#!/usr/bin/env bash
# Proves every clause of the annex, but those of the open office: its three outputs that dim in one group are more
# than a proof holds today. Ends with the exit code of `prove`: 0 only when every clause is proved.
set -euo pipefail
cd "$(dirname "$0")/.."
rooms=()
for room in scenarios/*/; do
  [ "$room" = scenarios/open-office/ ] || rooms+=("${room%/}")
done
cargo run --release --locked --quiet -- prove "${rooms[@]}" --no-times | grep -E '^  [^ ]+ +[✓✗?·]|clauses? \('
exit "${PIPESTATUS[0]}"
