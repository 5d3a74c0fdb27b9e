#!/bin/bash
# clang-tidy over the program's own sources (not the tests), one after the other on each core. The list of checks is
# made for Debian 12's version.
set -uo pipefail
cd "$(dirname "$0")/../.."
build=$1
clang-tidy --version | grep -q 'version 14\.' || { echo "skipped: not clang-tidy 14"; exit 77; }
log=$(mktemp)
git ls-files 'config/*.cpp' 'drivers/*.cpp' 'daemon/*.cpp' 'tools/*.cpp' |
  while read -r file; do grep -qF "/$file\"" "$build/compile_commands.json" && echo "$file"; done |
  xargs -P "$(nproc)" -n 4 clang-tidy -p "$build" --quiet --extra-arg=-Wno-unknown-warning-option \
    --extra-arg=-D__cpp_impl_coroutine=201902L --extra-arg=-DBOOST_ASIO_HAS_CO_AWAIT=1 2>/dev/null >"$log"
status=$?
cat "$log"
rm -f "$log"
exit $status
