#!/bin/sh
# Installs what the tests need from the system, if it is not there yet: Chromium for the browser tests and certutil
# to tell it of an authority, PostgreSQL for the book's, npm for the check of the scripts' types. Needs root once; says so plainly when it cannot.
set -eu
want=""
command -v chromium >/dev/null 2>&1 || command -v chromium-browser >/dev/null 2>&1 || want="$want chromium"
command -v certutil >/dev/null 2>&1 || want="$want libnss3-tools"
ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || command -v initdb >/dev/null 2>&1 || want="$want postgresql"
command -v npm >/dev/null 2>&1 || want="$want npm"
[ -n "$want" ] || exit 0
if ! command -v apt-get >/dev/null 2>&1; then
  echo "The tests need$want: install them with your system's package manager, then run make test again." >&2
  exit 1
fi
as_root=""
if [ "$(id -u)" -ne 0 ]; then
  command -v sudo >/dev/null 2>&1 || {
    echo "The tests need$want. As root: apt-get update && apt-get install$want" >&2
    exit 1
  }
  as_root=sudo
fi
echo "Installing for the tests:$want"
$as_root apt-get update -qq
DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends $want >/dev/null
