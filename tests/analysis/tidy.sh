#!/bin/bash
# clang-tidy over the program's own sources (not the tests), two at a time.
set -uo pipefail
cd "$(dirname "$0")/../.."
build=$1
log=$(mktemp)
git ls-files 'config/*.cpp' 'drivers/*.cpp' 'daemon/*.cpp' 'tools/*.cpp' | grep -v gpio_line_v |
  xargs -P "$(nproc)" -n 4 clang-tidy -p "$build" --quiet --extra-arg=-Wno-unknown-warning-option \
    --extra-arg=-D__cpp_impl_coroutine=201902L --extra-arg=-DBOOST_ASIO_HAS_CO_AWAIT=1 2>/dev/null >"$log"
status=$?
cat "$log"
rm -f "$log"
exit $status
