#!/bin/bash
# From a fresh clone to a verdict: installs what is missing, builds, and judges a trace.
#   ./cli/quickstart.sh [TRACE]
set -euo pipefail

asked=${1:-}
if [ -n "$asked" ]; then
    asked=$(realpath -- "$asked")
fi
cd "$(dirname "${BASH_SOURCE[0]}")/.."
root=$PWD
build=$root/.build/release
# shellcheck source=cli/prepare.sh
. cli/prepare.sh

# shellcheck disable=SC2086 # a list of names
packages_need $PACKAGES_BUILD

echo "Building (the log is in .build/quickstart.log)"
folder_fresh "$build"
mkdir -p "$build"
if ! { cmake -S . -B "$build" -DCMAKE_BUILD_TYPE=Release -DBUILD_TESTING=OFF &&
       cmake --build "$build" -j"$(getconf _NPROCESSORS_ONLN)" --target portassay; } >.build/quickstart.log 2>&1; then
    tail -n 40 .build/quickstart.log
    echo "The build failed; the whole of it is in $root/.build/quickstart.log"
    exit 2
fi

portassay=$build/cli/portassay
trace=${asked:-traces/port-managers-fixed.pcap}

echo
echo "\$ portassay offers ${trace}"
"$portassay" offers "$trace"

echo
echo "\$ portassay check ${trace}"
status=0
"$portassay" check "$trace" || status=$?
if [ "$status" -gt 1 ]; then
    exit "$status"
fi

echo
if [ "$status" -eq 1 ]; then
    echo "A finding that failed is a result: check then exits with 1."
fi
echo "The program: .build/release/cli/portassay (to install it: cmake --install .build/release)"
echo "Next: portassay show ${trace}; more traces are in traces/; portassay --help; README.md"
