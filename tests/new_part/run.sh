#!/bin/bash
# Follows the advice in DEVELOPERS.md to the letter: tools/new_driver, new_watch, new_channel and new_command in a copy
# of the tree. Each may touch folders of its own and one list. Then configures the copy, and builds and tries all four.
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
expect_said() {  # text
  grep -qF -- "$1" "$scratch/out" || { cat "$scratch/out"; fail "it does not say: $1"; }
}

cd "$source"
if git rev-parse --is-inside-work-tree >/dev/null 2>&1; then
  git ls-files -z
else
  find . -path './build*' -prune -o -type f -print0
fi | tar --create --null --files-from=- --ignore-failed-read 2>/dev/null | tar --extract --directory "$tree"

cd "$tree"
git init -q .
git add --all
git -c user.name=test -c user.email=test@localhost commit -q -m "as it is"

# What the last tool did: one line more in its list, whatever is new is in folders of its own, nothing else changed.
only_touched() {  # list, new paths...
  local list=$1
  shift
  [ "$(git diff --numstat)" = "1	0	$list" ] || { git diff --stat; fail "more than one line of $list changed"; }
  [ "$(git ls-files --others --exclude-standard | sort)" = "$(printf '%s\n' "$@" | sort)" ] ||
    { git status --short; fail "new files beside $*"; }
  if python3 tools/check_layers.py 2>&1 | grep -v DEVELOPERS.md | grep -F "$1"; then fail "$1 breaks the include rules"; fi
  git add --all
  git -c user.name=test -c user.email=test@localhost commit -q -m "one more in $list"
}
refused() {  # tool, a name that is taken
  expect 2 "tools/$1"
  expect 2 "tools/$1" "Pit Probe"
  expect 2 "tools/$1" ../pit
  expect 1 "tools/$1" "$2"
  [ -z "$(git status --porcelain)" ] || fail "a name that tools/$1 refused changed the tree"
}

refused new_driver skeleton
refused new_driver thermocouple
expect 0 tools/new_driver pit-probe
expect 1 tools/new_driver pit_probe
! grep -ri skeleton drivers/pit_probe tests/unit/drivers/pit_probe || fail "the copy still says skeleton"
grep -q '"pit-probe"' drivers/pit_probe/driver.cpp || fail "the driver is not called pit-probe"
only_touched drivers/drivers.def $(git ls-files --others drivers/pit_probe tests/unit/drivers/pit_probe)

refused new_watch probe-silent
expect 0 tools/new_watch lid-off
only_touched daemon/watches/watches.def daemon/watches/lid_off/lid_off.cpp tests/unit/daemon/watches/lid_off_test.cpp

refused new_channel webhook
expect 0 tools/new_channel wall-lamp
only_touched daemon/notices/notices.def daemon/notices/wall_lamp/wall_lamp.cpp \
  tests/unit/daemon/notices/wall_lamp_test.cpp

refused new_command hold
expect 2 tools/new_command menu attic
expect 0 tools/new_command menu live
expect 1 tools/new_command menu past
only_touched tools/cli/program/commands.def tools/cli/live/menu.cpp

# As the ordinary build does, so that the compiler cache has what is not new.
expect 0 cmake -S . -B build -G Ninja -DCMAKE_BUILD_TYPE=Release
expect 0 ninja -C build unit_drivers_pit_probe unit_daemon_watches unit_daemon_notices ingle
grep -q 'DRIVER(pit_probe)' build/generated/drivers.inc || fail "the registry does not know the driver"
build/tests/unit/drivers/pit_probe/unit_drivers_pit_probe
build/tests/unit/daemon/watches/unit_daemon_watches "lid-off*"
build/tests/unit/daemon/notices/unit_daemon_notices "wall-lamp*"
expect 0 build/tools/ingle menu --help
expect_said "ingle menu"
expect 1 build/tools/ingle --state "$scratch/nobody" menu
