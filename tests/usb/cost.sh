#!/bin/bash
# What recording costs: a simulated sniffer of 8 ports, 2,000 packets a second and POWER at 10 kS/s on each, in transfers of 16 KiB.
# Prints processor time (user + system) a second of the recording process and of a client that drops everything: the difference
# is what recording itself takes. Memory is the most that was resident.
#   cost.sh PORTASSAY SNIFFER_SIM EMPTY [SECONDS]
set -uo pipefail
portassay=$1 sim=$2 empty=$3 seconds=${4:-10}
command -v umockdev-wrapper >/dev/null && [ -n "$sim" ] || { echo "skipped: there is no umockdev"; exit 0; }
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

# run NAME COMMAND...: user and system seconds, KiB
run() {
    local name=$1
    shift
    # shellcheck disable=SC2016 # for the inner shell
    umockdev-wrapper "$sim" -p 8 -t -n 1000000000 -- bash -c '"${@:2}" 2>"$0.said" & pid=$!; sleep "$1"; grep VmHWM "/proc/$pid/status"; wait $pid; times' \
        "$scratch/$name" $((seconds - 1)) "$@" >"$scratch/$name" 2>/dev/null
    # The last line is the children's: 0m1.230s 0m0.456s
    awk -v s="$seconds" '/VmHWM/ { memory = $2 } END { split($1, u, /[ms]/); split($2, v, /[ms]/); printf "%.4f %d", (u[1] * 60 + u[2] + v[1] * 60 + v[2]) / s, memory }' "$scratch/$name"
}
read -r record memory < <(run record "$portassay" record -q -f usb -o "$scratch/busy.pcap" --for "${seconds}s")
read -r nothing _ < <(run empty "$empty" "$seconds")
records=$("$portassay" show --json "$scratch/busy.pcap" | awk '/"kind":"packet"/ { p++ } /"kind":"power"/ { w++ } /"kind":"lost"/ { l++ } END { printf "%d packets, %d POWER records, %d LOST", p, w, l }')
awk -v r="$record" -v n="$nothing" -v s="$seconds" -v what="$records" -v memory="$memory" 'BEGIN {
    printf "8 ports for %d s: %s\n", s, what
    printf "  recording      %5.2f %% of one core\n  empty client   %5.2f %% (the simulation'"'"'s own share)\n  difference     %5.2f %%\n  memory         %5.1f MiB\n", 100 * r, 100 * n, 100 * (r - n), memory / 1024 }'
