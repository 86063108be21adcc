#!/bin/sh
# The lock files name no registry, no mirror and no path of the machine that made them.
set -eu
if grep -nE '://|index-url|find-links|trusted-host|^/' requirements/*.txt; then
  echo "requirements/*.txt name a registry or a path: make them again with make lock" >&2
  exit 1
fi
