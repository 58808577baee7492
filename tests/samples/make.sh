#!/bin/bash
# Makes the samples of recordings in traces/ anew, from tests/samples/life.json.
#   make.sh BUILD-FOLDER
set -euo pipefail
source=$(cd "$(dirname "$0")/../.." && pwd)
cmake --build "$1" --target make_samples
"$1/tests/samples/make_samples" "$source/tests/samples/life.json" "$source/traces"
