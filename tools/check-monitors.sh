#!/usr/bin/env bash
# Checks the monitors of clauses against rtamt on thousands of random runs.
# usage: tools/check-monitors.sh [clauses of each form] [seed]
set -euo pipefail
cd "$(dirname "$0")/.."
python=$(tools/venv.sh)
cargo run --quiet --locked --package clause --example monitors -- "${1:-130}" "${2:-0}" | "$python" tools/check_monitors.py
