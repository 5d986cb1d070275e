#!/usr/bin/env bash
# Checks the pages and pictures that `report` draws with the Nu HTML Checker.
# usage: tools/check-pages.sh [more files or folders]
set -euo pipefail
cd "$(dirname "$0")/.."
checker_version=26.9.27
kept=target/page-checker
jar=$kept/node_modules/vnu-jar/build/dist/vnu.jar

# Installs Debian packages, as root or through sudo.
install() {
  local root=()
  [ "$(id -u)" = 0 ] || root=(sudo)
  "${root[@]}" apt-get update -qq >&2
  DEBIAN_FRONTEND=noninteractive "${root[@]}" apt-get install -y -qq --no-install-recommends "$@" >&2
}

command -v java >/dev/null || install default-jre-headless
command -v npm >/dev/null || install npm
if [ ! -f "$jar" ]; then
  mkdir -p "$kept"
  npm install --silent --no-fund --no-audit --prefix "$kept" "vnu-jar@$checker_version" >&2
fi

# This test writes one page and one picture of each kind to target/pictures.
cargo test --quiet --locked --package report --lib pages_are_written_for_the_checker >/dev/null
# The checker does not know `paint-order`, which the CSS of SVG 2 has.
java -jar "$jar" --also-check-svg --filterpattern '.*paint-order.*' target/pictures "$@"
echo "pages: $(find target/pictures -name '*.html' | wc -l), pictures: $(find target/pictures -name '*.svg' | wc -l), no finding"
