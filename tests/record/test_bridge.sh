#!/bin/bash
# The bridge script of the README, word for word: readings of a meter become records.
#   test_bridge.sh PORTASSAY README
set -uo pipefail
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
sed -n '/^```sh$/,/^```$/p' "$2" | sed '1d;$d' >"$scratch/bridge.sh"
grep -q 'bridge.sh DEVICE PORT' "$scratch/bridge.sh" || { echo "FAILED: the README has no bridge.sh"; exit 1; }
printf '%s\n' 'warming up' '9.012 V 1.503 A' 'OVERLOAD' '20.1 V -0.5 A' >"$scratch/meter"
sh "$scratch/bridge.sh" "$scratch/meter" 3 | "$1" record --from text:- -o "$scratch/meter.pcap" || { echo "FAILED: record"; exit 1; }
"$1" show --json "$scratch/meter.pcap" | grep '"kind":"power"' | sed 's/.*"port":\([0-9]*\).*"first":\(\[[^]]*\]\).*/\1 \2/' >"$scratch/found"
printf '3 [9012000,1503000]\n3 [20100000,-500000]\n' | diff - "$scratch/found" || { echo "FAILED: readings"; exit 1; }
