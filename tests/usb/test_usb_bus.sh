#!/bin/bash
# Sniffers that behave and that do not, behind the kernel interface of libusb (sniffer_sim.c), heard by listen.c.
#   test_usb_bus.sh SNIFFER_SIM LISTEN
set -uo pipefail
sim=$1 listen=$2
if [ -z "$sim" ] || ! command -v umockdev-wrapper >/dev/null; then
    echo "skipped: there is no umockdev"
    exit 0
fi
export ASAN_OPTIONS=${ASAN_OPTIONS:-}:verify_asan_link_order=0
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
wrong=0

# hear 'what the simulated sniffers do' 'what the listener is told': output in $scratch/heard
hear() {
    # shellcheck disable=SC2086 # lists of words
    timeout 120 umockdev-wrapper "$sim" $1 -- "$listen" $2 >"$scratch/heard" 2>"$scratch/complaints" ||
        { echo "FAILED: $case: ended with $?"; cat "$scratch/heard" "$scratch/complaints"; wrong=1; }
}

# want PATTERN: a whole line of the output
want() {
    grep -qxE "$1" "$scratch/heard" || { echo "FAILED: $case: no line is: $1"; cat "$scratch/heard" "$scratch/complaints"; wrong=1; }
}
never() {
    ! grep -qE "$1" "$scratch/heard" || { echo "FAILED: $case: a line has: $1"; cat "$scratch/heard"; wrong=1; }
}

case='100,000 records as fast as they are fetched'
hear '-n 100000' '--count 100000'
want 'found: serial PA-0001 model made-up sniffer place 1-1 ports 1 from 0'
want 'in all 100000 records, 0 lost, 0 out of order, 0 back in time'

case='short transfers: frames cross their borders'
hear '-n 5000 -s 333' '--count 5000'
want 'in all 5000 records, 0 lost, 0 out of order, 0 back in time'

case='garbage before every 50th frame'
# The frame before garbage is no sound one by the contract (no magic behind it): 400 pieces of 13 bytes, 399 frames of 36.
hear '-n 20000 -g 50' '--for 3500'
want 'sniffer PA-0001: 19601 frames, 399 missing, 19564 bytes skipped, .*'
want 'in all 19601 records, 399 lost, 0 out of order, 0 back in time'

case='every 100th frame missing'
hear '-n 10000 -m 100 -s 1000' '--for 3500'
want 'in all 99[0-9][0-9] records, 100 lost, 0 out of order, 0 back in time'

for how in '' '-e'; do
    case="pulled and plugged in again $how"
    hear "$how -n 20000 -s 700 -u 5000 -b 200" '--for 5000'
    want 'gone: serial PA-0001 .*'
    want 'back: serial PA-0001 model made-up sniffer place 1-1 ports 1 from 0'
    # What was in the wire at the pull is lost; no record comes twice.
    want 'in all (19[0-9]{3}|20000) records, 0 lost, [01] out of order, 0 back in time'
    want 'sniffer PA-0001: .* next value 20000, .*'
done

case='plugged in later'
hear '-l 400 -n 100' '--for 2500'
want 'in all 100 records, 0 lost, 0 out of order, 0 back in time'

for lie in short-describe version no-ports; do
    case="what it says of itself cannot be: $lie"
    hear "-x $lie" '--for 1500'
    want 'lies: serial PA-0001 .*'
    want 'in all 0 records, .*'
    never '^found'
done

case='START is refused'
hear '-x no-start' '--for 1500'
want 'refused: serial PA-0001 .*'

case='the node cannot be opened'
hear '-x no-rights' '--for 1500'
want 'refused: serial .*'

case='CLOCK is refused: tied by arrivals'
hear '-x no-clock -n 3000' '--for 3500'
want 'no clock: serial PA-0001 .*'
want 'sniffer PA-0001: 3000 frames, 0 missing, .*, by arrivals'

case='the last ten frames never come: CLOCK tells at STOP how many there were'
hear '-n 5000 -y 10' '--for 1500'
want 'sniffer PA-0001: 4990 frames, 10 missing, 0 bytes skipped, .*'
want 'in all 4990 records, 10 lost, 0 out of order, 0 back in time'

case='begins anew by itself'
hear '-x restart -n 3000 -s 700' '--for 3500'
want 'restarted: serial PA-0001 .*'
want 'sniffer PA-0001: .* next value 3000, .*'

case='the endpoint stalls once'
hear '-x stall -n 3000 -s 700' '--for 3500'
want 'in all 3000 records, 0 lost, 0 out of order, 0 back in time'

case='several: ports by place, one chosen by its number'
hear '-d 3 -p 2 -n 100' '--for 1500'
want 'found: serial PA-0001 .* ports 2 from 0'
want 'found: serial PA-0002 .* ports 2 from 2'
want 'found: serial PA-0003 .* ports 2 from 4'
want 'in all 300 records, 0 lost, 0 out of order, 0 back in time'
hear '-d 3 -n 100' '--for 1500 PA-0002'
want 'found: serial PA-0002 .* ports 1 from 0'
never 'PA-0001'

case='the last data come in at the end'
hear '-n 5000 -r 2000 -a 3000' ''
sent=$(sed -n 's/^simulated: \([0-9]*\) frames sent.*/\1/p' "$scratch/complaints")
want "sniffer PA-0001: $sent frames, 0 missing, 0 bytes skipped, .*"

# Two clocks 100 ppm apart, answers held up by 0 to 5 ms. Record v is stamped v / 500 s of its sniffer's clock, which started when the
# simulation says: its true time on the host is known. 100 ppm would be 6 ms in a minute.
seconds=${USB_SECONDS:-6}
case="two clocks 100 ppm apart for $seconds s"
hear "-d 2 -n 1000000 -r 500 -c 100 -w 5" "--every --for $((seconds * 1000))"
awk -v seconds="$seconds" '
    $1 == "started:" { start[substr($2, 4) - 1] = $4; ppm[substr($2, 4) - 1] = $6; next }
    $1 == "record" { off = ($7 - start[$3] - $9 / 500 * 1e9 / (1 + ppm[$3] * 1e-6)) / 1e6; n[$3]++
        if (off < low) low = off; if (off > high) high = off }
    END { printf "two clocks 100 ppm apart, %d s: times are %.3f to %.3f ms off (the simulation answers late by itself); %d and %d records\n", seconds, low, high, n[0], n[1]
        exit !(low > -10 && high < 10 && n[0] > seconds * 400 && n[1] > seconds * 400) }' "$scratch/complaints" "$scratch/heard" ||
    { echo "FAILED: $case"; tail -n 5 "$scratch/heard" "$scratch/complaints"; wrong=1; }

exit "$wrong"
