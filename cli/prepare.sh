# shellcheck shell=bash disable=SC2034
# What must be there before a build: packages of Debian and its kin, installed only where they are missing, and a build folder
# of this place. Read in by quickstart.sh and tests/run.sh.
#
#   packages_need NAME...     what the job cannot do without
#   packages_want NAME...     what a part of the job uses; that part says so if it is missing
#
# Both install what is missing with apt, as root or through sudo, without questions. Where that cannot be done they say what is
# needed and go on: the build will tell whether it is there after all.
#
#   folder_fresh FOLDER       throws a build folder away that was configured for another place (the project was moved or copied)

PACKAGES_BUILD="gcc libc6-dev make cmake pkg-config libpcap-dev libcjson-dev zlib1g-dev libzstd-dev libusb-1.0-0-dev libudev-dev libcsv-dev"

package_there() {
    [ "$(dpkg-query -W -f '${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

packages_missing() {
    local name missing=()
    for name; do
        package_there "$name" || missing+=("$name")
    done
    echo "${missing[*]}"
}

# apt-get as root or through sudo; 127 if neither is to be had.
packages_apt() {
    local as=()
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null || return 127
        as=(sudo)
    fi
    "${as[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -q -o DPkg::Lock::Timeout=300 "$@"
}

# packages_install LOG NAME... : true if all of them are there in the end.
packages_install() {
    local log=$1
    shift
    if [ -z "${PACKAGES_UPDATED:-}" ]; then
        packages_apt update >>"$log" 2>&1 || true
        PACKAGES_UPDATED=yes
    fi
    packages_apt install -y --no-install-recommends "$@" >>"$log" 2>&1
}

packages_need() {
    local missing log
    if ! command -v apt-get >/dev/null || ! command -v dpkg-query >/dev/null; then
        echo "This system has no apt. Needed: a C17 compiler, make, CMake 3.18 or later, pkg-config, and the libraries"
        echo "libpcap, cJSON, zlib, libzstd, libusb 1.0, libudev and libcsv with their headers (for Debian: $*)."
        echo "Going on with what is here."
        return 0
    fi
    missing=$(packages_missing "$@")
    [ -n "$missing" ] || return 0
    echo "Installing: $missing"
    log=$(mktemp)
    # shellcheck disable=SC2086 # a list of names
    if ! packages_install "$log" $missing; then
        tail -n 5 "$log"
        echo "Could not install them. As root: apt-get install $missing"
        echo "Going on with what is here."
    fi
    rm -f "$log"
}

packages_want() {
    local name missing log
    command -v apt-get >/dev/null && command -v dpkg-query >/dev/null || return 0
    missing=$(packages_missing "$@")
    [ -n "$missing" ] || return 0
    echo "Installing for the tests: $missing"
    log=$(mktemp)
    # shellcheck disable=SC2086 # a list of names
    if ! packages_install "$log" $missing; then
        # One that this release does not have must not keep the others away.
        for name in $missing; do
            packages_install "$log" "$name" || echo "Could not install $name."
        done
    fi
    rm -f "$log"
}

folder_fresh() {
    local home
    [ -f "$1/CMakeCache.txt" ] || return 0
    home=$(sed -n 's/^CMAKE_HOME_DIRECTORY:INTERNAL=//p' "$1/CMakeCache.txt")
    [ "$home" = "$PWD" ] || rm -rf "$1"
}
