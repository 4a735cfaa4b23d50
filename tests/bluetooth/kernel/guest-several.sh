#!/bin/bash
# Inside the emulated machine: the independent air as the kernel's only adapter, several sensors in it, the hub on it.
cd "$(dirname "$0")/../../.." || exit 1
mount -t debugfs d /sys/kernel/debug 2>/dev/null
[ -d /tmp/trace ] && { btmon -w /tmp/trace/btmon.snoop >/dev/null 2>&1 & trap 'cp /tmp/air.out /tmp/air.err /tmp/bluetoothd.log /tmp/trace 2>/dev/null' EXIT; }
mkfifo /tmp/air.in; exec 3<>/tmp/air.in
/usr/bin/python3 -u tests/bluetooth/air/virtual_air.py --vhci --seed "${AIR_SEED:-1}" <&3 >/tmp/air.out 2>/tmp/air.err &
for _ in $(seq 100); do grep -q adapter /tmp/air.out && break; sleep 0.2; done
addresses=(c4:b1:a2:33:04:12 c4:b1:a2:33:04:09 c4:b1:a2:33:04:1b c4:b1:a2:33:04:03 c4:b1:a2:33:04:1c)
for ((n = 0; n < SENSORS; n++)); do
  address=${addresses[n]}
  echo '{"do":"add","sensor":{"id":"'"${address//:/}"'","address":"'"$address"'","random":true,"name":"Kernel strap '$((n + 1))'","advertiseEveryMs":'$((60 + 20 * n))',"services":[{"uuid":"1800","characteristics":[{"uuid":"2a00","properties":["read"],"value":"4b"}]},{"uuid":"180d","characteristics":[{"uuid":"2a37","properties":["notify"],"stream":{"kind":"heartRate","everyMs":500}}]}]}}' >&3
done
if [ "$RADIO_LIBRARY" = bluez ]; then
  mkdir -p /run/dbus; dbus-daemon --system --fork
  /usr/libexec/bluetooth/bluetoothd -n >/tmp/bluetoothd.log 2>&1 &
fi
for _ in $(seq 100); do
  hciconfig hci0 up 2>/dev/null
  hciconfig 2>/dev/null | grep -q 'UP RUNNING' && break; sleep 0.2
done
echo "GUEST adapter up after $(cut -d' ' -f1 /proc/uptime) s: $(hciconfig 2>/dev/null | tr '\n' ' ' | cut -c1-120)"
NO_COLOR=1 timeout 250 node dist/bluetooth-rig/kernel-several.js hci0 "dist/bluetooth-rig/${RADIO_CHILD:-radio-child}.js" "$RADIO_LIBRARY" "$SENSORS"
status=$?
[ $status = 0 ] || { grep -v '"sent"' /tmp/air.out | tail -25 | sed 's/^/GUEST air /'; tail -5 /tmp/air.err | sed 's/^/GUEST air /'; }
exit $status
