#!/bin/bash
# Makes the samples of recordings in traces/ anew, from tests/samples/life.json and firmware-*.json.
#   make.sh BUILD-FOLDER
set -euo pipefail
source=$(cd "$(dirname "$0")/../.." && pwd)
cmake --build "$1" --target make_samples
cmake --build "$1" --target portassay
for firmware in 1.03 1.04; do
    "$1/cli/portassay" synth -q -o "$source/traces/firmware-$firmware.pcap" "$source/tests/samples/firmware-$firmware.json"
done
"$1/tests/samples/make_samples" "$source/tests/samples/life.json" "$source/traces"
