#!/usr/bin/env bash
# Drives the live page in a real browser: what people do, who may watch, keyboard, screen readers.
# usage: tools/check-live.sh [files]        every check, or those of tools/live that are named
#        tools/check-live.sh --pictures     pictures of every state to target/live-pictures
set -euo pipefail
cd "$(dirname "$0")/.."

# Installs Debian packages, as root or through sudo.
install() {
  local root=()
  [ "$(id -u)" = 0 ] || root=(sudo)
  "${root[@]}" apt-get update -qq >&2
  DEBIAN_FRONTEND=noninteractive "${root[@]}" apt-get install -y -qq --no-install-recommends "$@" >&2
}

command -v chromium >/dev/null || install chromium
command -v npm >/dev/null || install npm
[ -d tools/live/node_modules/playwright-core ] || npm ci --silent --prefix tools/live >&2

if [ -z "${ROOMRIG:-}" ]; then
  cargo build --release --locked --quiet --package cli
  export ROOMRIG="$PWD/target/release/roomrig"
fi
cd tools/live
if [ "${1:-}" = --pictures ]; then
  shift
  exec node pictures.mjs "$@"
fi
[ $# -gt 0 ] || set -- *.test.mjs
# The files run one after the other: a machine has two cores, and a browser takes one.
exec node --test --test-concurrency=1 --test-reporter=spec "$@"
