# shellcheck shell=bash disable=SC2154
# The rule, by udev itself: what it makes of a head's port, and of a stranger's with the head's numbers.

# of_head NAME: a constant of a head's USB identity, as `shared` has it
of_head() { sed -n "s/^pub const $1: [^=]* = \(0x\|\"\)\([^\";]*\)\"\{0,1\};.*/\2/p" shared/src/usb.rs; }

# plugged VENDOR PRODUCT NAME: such a device as umockdev describes one, down to its port
plugged() {
    local device=/devices/pci0000:00/0000:00:14.0/usb1/1-1
    printf '%s\n' "P: $device" "E: DEVTYPE=usb_device" "E: SUBSYSTEM=usb" "A: idVendor=$1" "A: idProduct=$2" "A: product=$3" '' \
        "P: $device/1-1:1.0" "E: DEVTYPE=usb_interface" "E: SUBSYSTEM=usb" '' \
        "P: $device/1-1:1.0/tty/ttyACM0" "N: ttyACM0" "E: DEVNAME=/dev/ttyACM0" "E: SUBSYSTEM=tty" "E: MAJOR=166" "E: MINOR=0" ''
}

# by_udev DESCRIPTION PATH: what udev would do with the device at this path below the described one, rules of this system and ours
by_udev() {
    unshare --mount -- bash -c '
        mount --bind "$1" /etc/udev/rules.d && mount -t tmpfs tmpfs /run || exit 75
        exec umockdev-run --device "$2" -- udevadm test --action=add "/sys/devices/pci0000:00/0000:00:14.0/usb1/1-1$3"' \
        by_udev "$tree/usr/lib/udev/rules.d" "$1" "$2" 2>&1
}

rule() {
    local vendor product name said
    vendor=$(of_head VENDOR | tr A-F a-f) product=$(of_head PRODUCT | tr A-F a-f) name=$(of_head NAME)
    [ -n "$vendor" ] && [ -n "$product" ] && [ -n "$name" ] || wrong "shared/src/usb.rs does not say who a head is"
    if [ "$(id -u)" != 0 ] || ! command -v umockdev-run > /dev/null || ! unshare --mount true 2> /dev/null; then
        skipped "udev did not try the rule: that takes root's rights, mounts of one's own (unshare) and umockdev-run"
        return
    fi
    plugged "$vendor" "$product" "$name" > "$work/head"
    said=$(by_udev "$work/head" /1-1:1.0/tty/ttyACM0)
    grep -q "^run: 'uaccess'" <<< "$said" || wrong "udev does not give a head's port to whoever sits here: $(tail -n 3 <<< "$said")"
    grep -q '^ID_MM_PORT_IGNORE=1' <<< "$said" || wrong "a modem's manager would try a head's port"
    grep -q 'skimgauge.*\(nvalid\|nknown\|ailed\)' <<< "$said" && wrong "udev on the rule: $(grep skimgauge <<< "$said" | head -n 1)"
    said=$(by_udev "$work/head" '')
    grep -q '^ID_MM_DEVICE_IGNORE=1' <<< "$said" || wrong "a modem's manager would try a head"
    plugged "$vendor" "$product" "a lamp dimmer" > "$work/head"
    said=$(by_udev "$work/head" /1-1:1.0/tty/ttyACM0)
    grep -q '^DEVNAME=/dev/ttyACM0' <<< "$said" || wrong "udev does not see a stranger's port: $(tail -n 3 <<< "$said")"
    grep -q "uaccess\|ID_MM" <<< "$(grep '^run:\|^TAGS\|^ID_MM' <<< "$said")" && wrong "the rule gives away a stranger's port"
    told "udev itself gives a head's port to whoever sits here, keeps modem managers off it, and leaves a stranger's alone"
}
