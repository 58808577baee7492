#!/bin/bash
# portassay record --from usb and portassay ports on simulated sniffers (tests/usb/sniffer_sim.c behind umockdev).
#   test_usb.sh PORTASSAY SNIFFER_SIM
set -uo pipefail
portassay=$1 sim=$2
if [ -z "$sim" ] || ! command -v umockdev-wrapper >/dev/null; then
    echo "skipped: there is no umockdev"
    exit 0
fi
export ASAN_OPTIONS=${ASAN_OPTIONS:-}:verify_asan_link_order=0
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
wrong=0

# play 'what the sniffers do' STATUS ARGUMENTS...: the program among them; what it says in said
play() {
    local how=$1 wanted=$2 status=0
    shift 2
    rm -f "$scratch"/night*
    # shellcheck disable=SC2086 # a list of words
    timeout 60 umockdev-wrapper "$sim" $how -- sh -c '"$@"; echo "status $?"' sh "$portassay" "$@" >"$scratch/said" 2>&1 || status=$?
    grep -qx "status $wanted" "$scratch/said" || no "ended otherwise ($status)"
    if [ -e "$scratch/night.pcap" ]; then
        "$portassay" show --json "$scratch/night.pcap" >"$scratch/shown" || no "the trace cannot be read"
        "$portassay" check --json "$scratch/night.pcap" >"$scratch/checked" || [ $? -le 1 ] || no "the trace cannot be checked"
    fi
}
no() {
    echo "FAILED: $case: $*"
    tail -n 20 "$scratch/said"
    wrong=1
}
count() { # NUMBER PATTERN
    local have
    have=$(grep -cE "$2" "$scratch/shown")
    [ "$have" -eq "$1" ] || no "$have lines have $2, not $1"
}
said() {
    grep -qE "$1" "$scratch/said" || no "it does not say: $1"
}

case='100,000 records as fast as they are fetched'
play '-n 100000' 0 record -f usb -o "$scratch/night.pcap" --for 4
count 100000 '"kind":"mark"'
count 0 '"kind":"lost"'
grep '"kind":"mark"' "$scratch/shown" | sed 's/.*"value":\([0-9]*\).*/\1/' | awk '$1 != NR - 1 { exit 1 }' || no "records are out of order"
grep -q '"time_steps":0' "$scratch/checked" || no "times step back"
count 0 'align_ns' # one clock
grep -q '"model":"made-up sniffer"' "$scratch/shown" || no "ABOUT does not tell the instrument"
tail -n 1 "$scratch/shown" | grep -q '"drift":\[{"serial":"PA-0001"' || no "the end does not tell the drift"

case='two sniffers of two ports: one trace in order, ports one after the other'
play '-d 2 -p 2 -n 3000 -r 2000' 0 record -f usb -o "$scratch/night.pcap" --for 5
count 6000 '"kind":"mark"'
count 1500 '"port":3,"kind":"mark"'
count 4 '"instrument":\{"align_ns":[0-9]+\}' # two clocks: how well they are tied
grep -q '"time_steps":0' "$scratch/checked" || no "times step back"

case='one chosen by its serial number, its port moved'
play '-d 3 -n 100' 0 record -f usb:PA-0002=5 -o "$scratch/night.pcap" --for 2
count 100 '"port":5,"kind":"mark"'
count 100 '"kind":"mark"'

case='several chosen one by one'
play '-d 3 -n 100' 0 record -f usb:PA-0003 -f usb:PA-0001 -o "$scratch/night.pcap" --for 2
count 100 '"port":0,"kind":"mark"'
count 100 '"port":1,"kind":"mark"'

case='every 100th frame missing'
play '-n 10000 -m 100 -s 1000' 0 record -f usb -o "$scratch/night.pcap" --for 4
count 100 '"kind":"lost","count":1,"where":1'
count "$(sed -n 's/^simulated: \([0-9]*\) frames sent.*/\1/p' "$scratch/said")" '"kind":"mark"'

case='pulled and plugged in again'
play '-n 20000 -s 700 -u 5000 -b 200' 0 record -f usb -o "$scratch/night.pcap" --for 5
said 'usb PA-0001: is gone'
said 'usb PA-0001: is back'
count 1 'recorder: usb PA-0001 is gone'
count 1 'recorder: usb PA-0001 is back'
count 1 '"kind":"lost"'
grep -q '"value":19999,' "$scratch/shown" || no "what came after is not there"

case='changes of the CC line, where they are asked for'
play '-n 1000 -k 10' 0 record -f usb --edges -o "$scratch/night.pcap" --for 1
count 100 '"kind":"edges"'
count 900 '"kind":"mark"'
play '-n 1000 -k 10' 0 record -f usb -o "$scratch/night.pcap" --for 2
count 0 '"kind":"edges"'
count 1000 '"kind":"mark"'

case='the writer stalls for 300 ms: nothing is lost'
rm -f "$scratch"/night*
timeout 60 umockdev-wrapper "$sim" -n 10000 -r 5000 -- sh -c '"$0" record -f usb --for 3 | { head -c 2000; sleep 0.3; cat; } >"$1"' \
    "$portassay" "$scratch/night.pcap" >"$scratch/said" 2>&1 || true
"$portassay" show --json "$scratch/night.pcap" >"$scratch/shown" 2>>"$scratch/said" || no "the trace cannot be read"
count 0 '"kind":"lost"'
count 10000 '"kind":"mark"'

case='without rights: what to do is said'
if [ "$(id -u)" = 0 ] && command -v setpriv >/dev/null; then
    timeout 60 umockdev-wrapper "$sim" -x owner -- setpriv --reuid=65534 --regid=65534 --clear-groups "$portassay" record -f usb >"$scratch/said" 2>&1
    said 'no right to open the sniffer; install the udev rules'
fi

case='nobody there'
play '-n 1' 2 record -f usb:NOBODY -o "$scratch/night.pcap"
said 'no such sniffer is plugged in'

case='what it says of itself cannot be'
play '-x version' 2 record -f usb -o "$scratch/night.pcap"
said 'cannot be'

case='ports'
play '-d 2 -p 2' 0 ports
said '^usb:PA-0001 .*made-up sniffer, sniffer at USB 1-1, 2 ports, volts [0-9]+ ppm'
said '^usb:PA-0002 '
play '-d 1 -p 2' 0 ports --json
said '"from":"usb:PA-0001","what":"made-up sniffer, sniffer at USB 1-1","serial":"PA-0001","ports":2'

exit "$wrong"
