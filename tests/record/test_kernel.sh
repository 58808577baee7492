#!/bin/bash
# portassay record --from kernel on trees of sysfs behind umockdev, and on a port whose partner comes and goes (kernel_sim.c).
#   test_kernel.sh PORTASSAY KERNEL_SIM SHARED
set -uo pipefail
portassay=$1 sim=$2 shared=$3
if ! command -v umockdev-wrapper >/dev/null; then
    echo "skipped: there is no umockdev"
    exit 0
fi
export ASAN_OPTIONS=${ASAN_OPTIONS:-}:verify_asan_link_order=0
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
wrong=0
no() {
    echo "FAILED: $case: $*"
    cat "$scratch"/said "$scratch"/shown 2>/dev/null | tail -n 30
    wrong=1
}
count() { # NUMBER PATTERN
    local have
    have=$(grep -cE "$2" "$scratch/shown")
    [ "$have" -eq "$1" ] || no "$have lines have $2, not $1"
}
show() {
    "$portassay" show --json "$scratch/k.pcap" >"$scratch/shown" || no "the trace cannot be read"
    "$portassay" offers --json "$scratch/k.pcap" >"$scratch/offers" || no "offers"
}

# tree FILE: "/path: value" and "/path -> target" become a folder; --from kernel reads it as /
tree() {
    rm -rf "$scratch/tree" "$scratch/k.pcap"
    while IFS= read -r line; do
        local path=${line%% -> *} target=${line#* -> }
        if [ "$path" != "$line" ]; then
            mkdir -p "$scratch/tree${path%/*}"
            ln -sfn "$target" "$scratch/tree$path"
        elif [[ $line == /*": "* ]]; then
            path=${line%%": "*}
            mkdir -p "$scratch/tree${path%/*}"
            printf '%s\n' "${line#*": "}" >"$scratch/tree$path" 2>/dev/null
        fi
    done <"$1"
}
read_tree() {
    UMOCKDEV_DIR=$scratch/tree timeout 30 umockdev-wrapper "$portassay" "$@" >"$scratch/said" 2>&1
}

case='a charger of five objects'
cat >"$scratch/lines" <<'TREE'
/sys/devices/platform/one/typec/port0/power_role: source [sink]
/sys/devices/platform/one/typec/port0/data_role: [host] device
/sys/devices/platform/one/typec/port0/power_operation_mode: usb_power_delivery
/sys/devices/platform/one/typec/port0/orientation: reverse
/sys/devices/platform/one/typec/port0/port0-partner/supports_usb_power_delivery: yes
/sys/devices/platform/one/typec/port0/port0-partner/usb_power_delivery -> ../../../../../virtual/usb_power_delivery/pd2
/sys/devices/virtual/usb_power_delivery/pd2/revision: 3.0
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/1:fixed_supply/voltage: 5000mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/1:fixed_supply/maximum_current: 3000mA
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/1:fixed_supply/unconstrained_power: 1
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/2:fixed_supply/voltage: 9000mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/2:fixed_supply/maximum_current: 3000mA
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/3:battery/minimum_voltage: 9000mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/3:battery/maximum_voltage: 12000mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/3:battery/maximum_power: 30000mW
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/4:variable_supply/minimum_voltage: 5000mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/4:variable_supply/maximum_voltage: 12000mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/4:variable_supply/maximum_current: 1500mA
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/5:programmable_supply/minimum_voltage: 3300mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/5:programmable_supply/maximum_voltage: 11000mV
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/5:programmable_supply/maximum_current: 3000mA
/sys/devices/virtual/usb_power_delivery/pd2/source-capabilities/5:programmable_supply/pps_power_limited: 1
/sys/class/typec/port0 -> ../../devices/platform/one/typec/port0
/sys/class/typec/port0-partner -> ../../devices/platform/one/typec/port0/port0-partner
TREE
tree "$scratch/lines"
read_tree ports || no "ports"
grep -q '^kernel:port0 .*partner attached, its offers are told (5 objects)' "$scratch/said" || no "ports does not list it"
read_tree record -f kernel -o "$scratch/k.pcap" --for 1 || no "record"
show
# Words by the macros of Linux include/linux/usb/pd.h: 5 V 3 A unconstrained; 9 V 3 A; 9 to 12 V 30 W; 5 to 12 V 1.5 A; 3.3 to 11 V 3 A limited.
count 1 '"bytes":"8151'
for word in 0x0801912c 0x0002d12c 0x4f02d078 0x8f019096 0xc8dc213c; do
    grep -q "\"word\":\"$word\"" "$scratch/offers" || no "no object $word"
done
count 1 '"kind":"cc","attach":2'
count 1 '"rebuilt":\["kernel"\]' # in the ABOUT of the port: other ports of the bench may be seen on a wire
[ "$(grep -c '"host_time"' "$scratch/shown")" -eq "$(wc -l <"$scratch/shown")" ] || no "a record is not flagged HOST_TIME"
"$portassay" check "$scratch/k.pcap" >"$scratch/said" || no "a sound charger is accused"

case='a port that is not there'
read_tree record -f kernel:port7 -o "$scratch/none.pcap"
[ $? -eq 2 ] || no "status"
grep -q 'no such Type-C port' "$scratch/said" || no "does not say so"

case='objects that the kernel leaves out'
sed -i '/4:variable/d; s,/5:programmable,/6:programmable,' "$scratch/lines"
tree "$scratch/lines"
read_tree record -f kernel=3 -o "$scratch/k.pcap" --for 1 || no "record"
show
count 1 '"port":3,"kind":"packet"'
# The fourth object is not told, the sixth stands at its own place.
count 1 "kernel: 2 objects of the partner's source capabilities are not told"
grep -q '"word":"0xf0000000","position":4' "$scratch/offers" || no "no hole at 4"
grep -q '"word":"0xc8dc213c","position":6' "$scratch/offers" || no "the sixth object has moved"
"$portassay" offers "$scratch/k.pcap" >"$scratch/said" || no "offers"
grep -qE '^ +4 +not told by the kernel$' "$scratch/said" || no "the hole is not named"
grep -q 'as the kernel tells it' "$scratch/said" || no "who told it is not said"

if [ -n "$sim" ]; then
    case='plugged, offers changed, pulled and in again, unplugged: told by uevents'
    rm -f "$scratch/k.pcap"
    timeout 30 umockdev-wrapper "$sim" "$portassay" record -f kernel:port0 -o "$scratch/k.pcap" --for 3.2 >"$scratch/said" 2>&1 || no "record"
    show
    count 5 '"kind":"cc"'
    count 5 '"kind":"packet"'
    count 1 'kernel: power supply on: 9.000 V, 2.000 A at the most'
    count 1 'kernel: power supply off'
    count 2 '"word":"0x6c001209"' # once each time it is plugged in
    grep -E '"kind":"(cc|packet)"' "$scratch/shown" | sed -E 's/.*"kind":"([a-z]*)","(attach|set)":("?[^,]*),.*/\1 \3/' >"$scratch/order"
    printf 'cc 0\ncc 1\npacket "SOP"\npacket "SOP"\npacket "SOP"\ncc 0\ncc 1\npacket "SOP"\npacket "SOP"\ncc 0\n' | diff - "$scratch/order" || no "another order"
    for word in 0x0002d0c8 0x0002d12c; do
        grep -q "\"word\":\"$word\"" "$scratch/offers" || no "no object $word"
    done
    "$portassay" check "$scratch/k.pcap" >"$scratch/said" || no "a charger is accused of what the kernel does not tell"
    grep -q 'put together from what a kernel told, and no wire was seen' "$scratch/said" || no "what cannot be judged is not said"
    # Pulled and in again within milliseconds: only the event tells of it.
fi

# first_offer TRACE: the words of the first Source_Capabilities; failed TRACE: the rules of offers that fail
first_offer() {
    "$portassay" offers --json "$1" | sed 's/"sink_offers".*//; s/"message":"/\n&/g' | sed -n '2p' | grep -o '"word":"0x[0-9a-f]*"' | tr '\n' ' '
}
failed() {
    "$portassay" check --json "$1" | grep -o '"rule":"caps[^}]*"verdict":"fail"' | cut -d'"' -f4 | sort -u | tr '\n' ' '
}

# Trees that a running kernel showed, beside what went over the wire at the same time: the objects are the same, bit by bit, and what is
# wrong with them is found either way.
if [ -e "$shared/peer/pps/sysfs-pps.txt" ]; then
    for lines in "$shared"/peer/*/sysfs-{attached,fixed,pps}.txt; do
        [ -e "$lines" ] || continue
        case="the tree of a running kernel: ${lines#"$shared"/}"
        tree "$lines"
        read_tree record -f kernel:port1 -o "$scratch/k.pcap" --for 0.3 || no "record"
        wire=${lines%/*}/trace.pcap
        [ -n "$(first_offer "$wire")" ] || no "nothing on the wire"
        [ "$(first_offer "$scratch/k.pcap")" = "$(first_offer "$wire")" ] ||
            no "told $(first_offer "$scratch/k.pcap"), on the wire $(first_offer "$wire")"
        [ "$(failed "$scratch/k.pcap")" = "$(failed "$wire")" ] || no "fails $(failed "$scratch/k.pcap"), on the wire $(failed "$wire")"
    done
    # Who is there: the cable word by word, of the partner what the kernel keeps.
    case='identity of partner and cable, beside the wire'
    cable_of() {
        "$portassay" offers --json "$1" | grep -o '"cable":{[^}]*' | head -n 1 | sed 's/"frame":[0-9]*,"t_ns":[0-9]*,//'
    }
    tree "$shared/peer/identity/sysfs-attached.txt"
    read_tree record -f kernel:port0 -o "$scratch/k.pcap" --for 0.3 || no "record"
    cable_of "$scratch/k.pcap" | grep -q '"word":"0x18001234"' || no "no cable"
    [ "$(cable_of "$scratch/k.pcap")" = "$(cable_of "$shared/peer/identity/trace.pcap")" ] || no "another cable than on the wire"
    "$portassay" offers "$scratch/k.pcap" >"$scratch/said" || no "offers"
    grep -qE 'device .*PDUSB host, PDUSB peripheral' "$scratch/said" || no "the partner is not told"
    "$portassay" check "$scratch/k.pcap" >"$scratch/said" || no "somebody is accused of what the kernel does not tell"
else
    echo "../shared/peer is not there; trees of our own were read"
fi
exit "$wrong"
