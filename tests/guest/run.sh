#!/bin/bash
# The program in a guest with Debian's own kernel (qemu, no hardware needed): a FunctionFS sniffer over dummy_hcd is recorded from, and
# two of the kernel's own Type-C port managers, joined by a module made here.
#   run.sh PORTASSAY [CACHE]       CACHE keeps the unpacked kernel (400 MB; .build/guest unless told otherwise)
# Exit code: 0 passed, 1 failed, 77 skipped: qemu or the packages cannot be had.
set -uo pipefail
portassay=$(realpath "$1")
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
cache=${2:-$here/../../.build/guest}
mkdir -p "$cache" && cache=$(cd "$cache" && pwd) || exit 1
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

skip() {
    echo "skipped: $*"
    exit 77
}
for tool in qemu-system-x86_64 busybox cpio apt-get dpkg-deb make gcc; do
    command -v "$tool" >/dev/null || skip "there is no $tool (Debian: qemu-system-x86 busybox-static cpio)"
done
[ "$(uname -m)" = x86_64 ] || skip "the guest is for x86_64"

# The kernel is unpacked, not installed; its version changes with every update, so it is asked for.
image=$(apt-cache depends linux-image-amd64 2>/dev/null | awk '/Depends: linux-image/ { print $2; exit }')
[ -n "$image" ] || skip "apt knows no linux-image-amd64"
version=${image#linux-image-}
headers=/usr/src/linux-headers-$version
[ -d "$headers" ] || skip "there is no $headers (Debian: linux-headers-$version)"
if [ ! -e "$cache/$version/boot/vmlinuz-$version" ]; then
    (cd "$scratch" && apt-get download -q "$image" udev >log 2>&1) || skip "the kernel package cannot be fetched: $(tail -n 1 "$scratch/log")"
    rm -rf "${cache:?}/$version"
    mkdir -p "$cache/$version"
    dpkg-deb -x "$scratch"/linux-image-*.deb "$cache/$version" && dpkg-deb -x "$scratch"/udev_*.deb "$cache/$version/udev" || exit 1
fi
root=$cache/$version

# What goes into it.
guest=$scratch/guest
mkdir -p "$guest"/{bin,dev,proc,sys,run,tmp,modules,lib64,etc/udev/rules.d,usr/lib/udev/rules.d}
cp "$(command -v busybox)" "$portassay" "$root/udev/bin/udevadm" "$guest/bin/" || exit 1
ln -s /bin/udevadm "$guest/bin/systemd-udevd"
gcc -std=c17 -O2 -Wall -Wextra -Werror -o "$guest/bin/ffs_sniffer" "$here/ffs_sniffer.c" -pthread || exit 1
for module in usb-common usbcore udc-core dummy_hcd configfs libcomposite usb_f_fs roles typec tcpm; do
    find "$root/lib/modules" -name "$module.ko" -exec cp {} "$guest/modules/" \;
done
mkdir "$scratch/module"
cp "$here/joined_ports.c" "$scratch/module/"
echo 'obj-m := joined_ports.o' >"$scratch/module/Kbuild"
make -s -C "$headers" M="$scratch/module" modules >"$scratch/log" 2>&1 || { echo "FAILED: the module cannot be built"; tail "$scratch/log"; exit 1; }
cp "$scratch/module/joined_ports.ko" "$guest/"
for program in "$guest"/bin/*; do
    ldd "$program" 2>/dev/null | awk '{ for (k = 1; k <= NF; k++) if ($k ~ /^\//) print $k }'
done | sort -u | while read -r library; do
    mkdir -p "$guest${library%/*}"
    cp -L "$library" "$guest$library"
done
cp "$here/init" "$guest/init"
chmod +x "$guest/init"
(cd "$guest" && find . | cpio -o -H newc 2>/dev/null | gzip -1) >"$scratch/guest.gz"

# /dev/kvm may be there and not work: the processor is always emulated.
timeout 170 qemu-system-x86_64 -accel tcg,thread=multi -M q35 -cpu max -smp 2 -nodefaults -no-user-config -m 512 -display none -serial stdio \
    -no-reboot -kernel "$root/boot/vmlinuz-$version" -initrd "$scratch/guest.gz" \
    -append 'console=ttyS0 quiet panic=-1 mitigations=off random.trust_cpu=on' </dev/null 2>&1 | tr -d '\r' >"$scratch/said"
wrong=0
want() {
    grep -qE "^result: $1" "$scratch/said" || { echo "FAILED: the guest does not say: $1"; wrong=1; }
}
grep -q '^guest: finished' "$scratch/said" || { echo "FAILED: the guest did not come to its end"; wrong=1; }
want 'ports: usb:GUEST-1 .*guest sniffer.* 1 port'
# What was in the wire when it was pulled is lost.
want 'usb status 0 marks (19[0-9]{3}|20[0-9]{3}) gone 1 back 1'
want 'usb last (19999|20[0-9]{3}) back 0'
want 'kernel status 0'
want 'cc port 1 attach 0'
want 'cc port 1 attach 2'
# 5 V 3 A, 9 V 3 A, 15 V 2 A, 3.3 to 11 V 3 A: PDO_FIXED and PDO_PPS_APDO of Linux include/linux/usb/pd.h.
for word in 0x0001912c 0x0002d12c 0x0004b0c8 0xc0dc213c; do
    want "\"word\":\"$word\""
done
want 'check "verdict":"(pass|undecided)"'
[ $wrong -eq 0 ] || tail -n 60 "$scratch/said"
grep -E '^(guest|result): ' "$scratch/said" | head -n 5
exit $wrong
