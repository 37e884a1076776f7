#!/usr/bin/env bash
# The golden answers on every supported Python that this machine has: one sum for all of them, or the run fails.
set -euo pipefail
cd "$(dirname "$0")/../.."

interpreter() { # the path of a working Python of a version such as 3.12, or nothing
  local name found
  if "python$1" -c "" 2>/dev/null; then
    command -v "python$1"
  elif command -v pyenv >/dev/null; then
    name="$(pyenv versions --bare 2>/dev/null | grep -E "^${1//./\\.}\.[0-9]+$" | tail -n 1 || true)"
    found="${name:+$(pyenv prefix "$name")/bin/python}"
    [ -x "$found" ] && echo "$found"
  fi
}

expected="$(.venv/bin/python -m tests.trust.golden)"
echo "golden answers on $(.venv/bin/python --version): $expected"
room="$(mktemp -d)"
trap 'rm -rf "$room"' EXIT
for version in 3.11 3.12 3.13; do
  .venv/bin/python -c "import sys; sys.exit(sys.version_info[:2] != tuple(map(int, '$version'.split('.'))))" && continue
  python="$(interpreter "$version" || true)"
  if [ -z "$python" ]; then
    echo "golden answers on Python $version: not on this machine, not asked"
    continue
  fi
  "$python" -m venv "$room/$version"
  "$room/$version/bin/python" -m pip install -qq --disable-pip-version-check --editable .
  answered="$("$room/$version/bin/python" -m tests.trust.golden)"
  echo "golden answers on $("$room/$version/bin/python" --version): $answered"
  [ "$answered" = "$expected" ]
done
