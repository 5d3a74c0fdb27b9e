# Sourced by tools/up, tools/check and tools/package: which Debian packages are needed, and asking apt for only what is missing.

build_packages="g++ cmake ninja-build pkg-config ccache libboost-dev libspdlog-dev libsqlite3-dev libgpiod-dev
 libhowardhinnant-date-dev libtomlplusplus-dev libcli11-dev nlohmann-json3-dev libcurl4-gnutls-dev libpng-dev libmodbus-dev libmosquitto-dev libsystemd-dev libasound2-dev ca-certificates"
test_packages="catch2 clang clang-format clang-tidy python3 python3-aiosmtpd python3-iapws python3-icalendar python3-jsonschema python3-pymodbus
 python3-serial python3-serial-asyncio mosquitto mosquitto-clients dbus-daemon dunst xvfb git sqlite3 faketime
 systemd qemu-system-x86 busybox-static cpio make libelf-dev chromium prometheus
 debhelper lintian man-db bash zsh fish"
# Node, for the page's tests, may come from elsewhere, and then does not go together with Debian's npm.
if ! { command -v node && command -v npm; } >/dev/null; then test_packages="$test_packages nodejs npm"; fi

package_packages="debhelper git python3"
say() { printf '== %s\n' "$*"; }
die() { printf 'ingle: %s\n' "$*" >&2; exit 1; }

missing_packages() {
  local name
  for name in "$@"; do
    dpkg-query -W -f='${db:Status-Status}' "$name" 2>/dev/null | grep -qx installed || printf '%s ' "$name"
  done
}

need_packages() {
  local lacking as_root=""
  lacking=$(missing_packages "$@")
  if [ -z "$lacking" ]; then say "every package that is needed is installed"; return; fi
  command -v apt-get >/dev/null || die "these Debian packages are missing and there is no apt-get here: $lacking"
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || die "these packages are missing: $lacking; run 'apt-get install $lacking' as root"
    as_root=sudo
  fi
  say "installing: $lacking"
  export DEBIAN_FRONTEND=noninteractive
  $as_root apt-get update -qq || die "apt-get update failed; is the network there?"
  # shellcheck disable=SC2086
  $as_root apt-get install -y -qq --no-install-recommends $lacking >/dev/null ||
    die "apt-get could not install: $lacking"
}
