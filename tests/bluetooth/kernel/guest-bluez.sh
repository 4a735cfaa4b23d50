#!/bin/bash
# Inside the emulated machine: the independent air as the kernel's only adapter, sensors in it that pair, BlueZ's own daemon
# as the hub's side, and the hub as a user without rights.
cd "$(dirname "$0")/../../.." || exit 1
mount -t debugfs d /sys/kernel/debug 2>/dev/null
# Keys go where they go on every computer, on a disk in memory.
mount -t tmpfs t /var/lib/bluetooth 2>/dev/null || { mkdir -p /var/lib/bluetooth && mount -t tmpfs t /var/lib/bluetooth; }
[ -d /tmp/trace ] && { btmon -w /tmp/trace/btmon.snoop >/dev/null 2>&1 & trap 'cp /tmp/air.out /tmp/air.err /tmp/bluetoothd.log /tmp/trace 2>/dev/null' EXIT; }
mkfifo -m 666 /tmp/air.in; exec 3<>/tmp/air.in
/usr/bin/python3 -u tests/bluetooth/air/virtual_air.py --vhci --seed "${AIR_SEED:-1}" <&3 >/tmp/air.out 2>/tmp/air.err &
for _ in $(seq 100); do grep -q adapter /tmp/air.out && break; sleep 0.2; done
mkdir -p /run/dbus; dbus-daemon --system --fork
# The one setting of the system that the README asks for.
sed 's/^#ConnectionSupervisionTimeout=.*/ConnectionSupervisionTimeout=512/' /etc/bluetooth/main.conf >/tmp/main.conf
start_daemon() { /usr/libexec/bluetooth/bluetoothd -n $([ -d /tmp/trace ] && echo -d) -f /tmp/main.conf >>/tmp/bluetoothd.log 2>&1 & echo $! >/tmp/bluetoothd.pid; }
start_daemon
# The hub asks for it by a file: it may not stop the daemon itself.
(while sleep 0.5; do [ -e /tmp/restart-daemon ] && { rm /tmp/restart-daemon; kill "$(cat /tmp/bluetoothd.pid)"; sleep 1; start_daemon; }; done) &
for _ in $(seq 100); do
  timeout 5 bluetoothctl power on >/dev/null 2>&1
  hciconfig 2>/dev/null | grep -q 'UP RUNNING' && break; sleep 0.2
done
echo "GUEST adapter up after $(cut -d' ' -f1 /proc/uptime) s; BlueZ $(/usr/libexec/bluetooth/bluetoothd -v)"
NO_COLOR=1 timeout 1700 setpriv --reuid 65534 --regid 65534 --clear-groups --inh-caps=-all --bounding-set=-all \
  env HOME=/tmp "$(command -v node)" dist/bluetooth-rig/kernel-bluez.js hci0 "dist/bluetooth-rig/${RADIO_CHILD:-radio-child}.js" "${PART:-all}"
status=$?
echo "GUEST keys kept: $(find /var/lib/bluetooth -name info -printf '%m ' 2>/dev/null), daemon's folder $(stat -c %a /var/lib/bluetooth/* 2>/dev/null | head -1)"
[ $status = 0 ] || { grep -v '"sent"\|"did"\|scanParam\|"scan"' /tmp/air.out | tail -40 | sed 's/^/GUEST air /'; tail -5 /tmp/air.err | sed 's/^/GUEST air /'; tail -12 /tmp/bluetoothd.log | sed 's/^/GUEST bluetoothd /'; dmesg | grep -i bluetooth | tail -12 | sed 's/^/GUEST kernel /'; }
dmesg | grep -A45 -m2 -E 'BUG:|list_del corruption|general protection|Oops' | sed 's/^/GUEST kernel /'
exit $status
