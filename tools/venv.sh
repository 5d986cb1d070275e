#!/usr/bin/env bash
# Makes tools/.venv with what tools/requirements.txt asks for, and prints the path of its Python.
# Does nothing when it is already there and the requirements have not changed.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
venv=$here/.venv
wanted=$here/requirements.txt

# Installs Debian packages, as root or through sudo.
install() {
  local root=()
  [ "$(id -u)" = 0 ] || root=(sudo)
  "${root[@]}" apt-get update -qq >&2
  DEBIAN_FRONTEND=noninteractive "${root[@]}" apt-get install -y -qq --no-install-recommends "$@" >&2
}

# One at a time: two commands of one machine may both want it.
exec 9>"$here/.venv.lock"
flock 9
if ! cmp -s "$wanted" "$venv/requirements.txt"; then
  python3 -c 'import ensurepip, venv' 2>/dev/null || install python3 python3-venv
  rm -rf "$venv"
  python3 -m venv "$venv" >&2
  "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$wanted" >&2
  cp "$wanted" "$venv/requirements.txt"
fi
echo "$venv/bin/python"
