#!/bin/bash
# Follows the advice in DEVELOPERS.md to the letter: tools/new_driver in a copy of the tree, then configures the copy
# and builds and runs the unit test of the new driver.
# usage: run.sh SOURCE-TREE
set -euo pipefail

source=$1
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
tree=$scratch/tree
mkdir "$tree"

fail() {
  echo "FAILED: $*" >&2
  exit 1
}
expect() {  # status, command...
  local status=0 wanted=$1
  shift
  "$@" >"$scratch/out" 2>&1 || status=$?
  [ "$status" = "$wanted" ] || { cat "$scratch/out"; fail "$* ended with $status, not $wanted"; }
}

cd "$source"
if git rev-parse --is-inside-work-tree >/dev/null 2>&1; then
  git ls-files -z
else
  find . -path './build*' -prune -o -type f -print0
fi | tar --create --null --files-from=- --ignore-failed-read 2>/dev/null | tar --extract --directory "$tree"

cd "$tree"
lines=$(wc -l <drivers/drivers.def)
expect 2 tools/new_driver
expect 2 tools/new_driver "Pit Probe"
expect 2 tools/new_driver ../pit
expect 1 tools/new_driver skeleton
expect 1 tools/new_driver thermocouple
[ "$(wc -l <drivers/drivers.def)" = "$lines" ] || fail "a refused name changed drivers.def"
expect 0 tools/new_driver pit-probe
expect 1 tools/new_driver pit_probe
[ "$(wc -l <drivers/drivers.def)" = $((lines + 1)) ] || fail "drivers.def did not get one line"
! grep -ri skeleton drivers/pit_probe tests/unit/drivers/pit_probe || fail "the copy still says skeleton"
grep -q '"pit-probe"' drivers/pit_probe/driver.cpp || fail "the driver is not called pit-probe"
git init -q .
if python3 tools/check_layers.py 2>&1 | grep pit_probe; then fail "the copy breaks the include rules"; fi

expect 0 cmake -S . -B build -G Ninja
expect 0 ninja -C build unit_drivers_pit_probe
grep -q 'DRIVER(pit_probe)' build/generated/drivers.inc || fail "the registry does not know the driver"
build/tests/unit/drivers/pit_probe/unit_drivers_pit_probe
