#!/bin/bash
# Inside the emulated machine: three virtual adapters in the kernel, two sensors by BlueZ's daemon, the hub on the third.
cd "$(dirname "$0")/../../.." || exit 1
mount -t debugfs d /sys/kernel/debug 2>/dev/null
btvirt -L -l3 >/tmp/btvirt.log 2>&1 &
mkdir -p /run/dbus; dbus-daemon --system --fork
/usr/libexec/bluetooth/bluetoothd -n >/tmp/bluetoothd.log 2>&1 &
for _ in $(seq 100); do [ "$(hciconfig 2>/dev/null | grep -c 'UP RUNNING')" = 3 ] && break; sleep 0.2; done
/usr/bin/python3 -u tests/bluetooth/kernel/gatt-server.py hci0 'Rig One' >/tmp/rig-one.log 2>&1 &
echo $! >/tmp/rig-one.pid
/usr/bin/python3 -u tests/bluetooth/kernel/gatt-server.py hci1 'Rig Two' >/tmp/rig-two.log 2>&1 &
for _ in $(seq 100); do grep -q advertising /tmp/rig-one.log && grep -q advertising /tmp/rig-two.log && break; sleep 0.2; done
echo "GUEST sensors ready after $(cut -d' ' -f1 /proc/uptime) s"
NO_COLOR=1 timeout 170 node dist/bluetooth-rig/kernel-hub.js hci2 dist/bluetooth-rig/radio-child.js "$RADIO_LIBRARY"
status=$?
[ $status = 0 ] || { cat /tmp/rig-one.log /tmp/rig-two.log; tail -5 /tmp/bluetoothd.log; }
exit $status
