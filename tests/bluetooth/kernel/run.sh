#!/bin/bash
# The path that real users run: a real kernel in an emulated machine and the library's native socket. Without arguments
# one smoke test with BlueZ's daemon as the sensors; `several N [RUNS]` connects N sensors of the independent air at
# once, RUNS times; `bluez [RUNS] [forget]` pairs sensors of that air through BlueZ, as a
# user without rights; `forget` one sensor and the last step alone. LIBRARY=stoprocent takes the other library, LIBRARY=bluez BlueZ. Exits 0 when passed, 77 when it could not be run here (1
# instead, in CI).
set -euo pipefail
cd "$(dirname "$0")/../../.."
root=$PWD; work=$root/dist/kernel-rig; mkdir -p "$work"
cannot() { echo "KERNEL SMOKE TEST NOT RUN: $1" >&2; [ -n "${CI:-}" ] && exit 1; exit 77; }
packages=(bluez-test-tools bluez dbus python3-dbus python3-gi qemu-system-x86 busybox-static cpio kmod)
for package in "${packages[@]}"; do
  dpkg -s "$package" >/dev/null 2>&1 || cannot "the Debian package $package is not installed (needed: ${packages[*]})"
done
guest=guest.sh sensors=0 runs=1 limit=300 part=all
[ "${1:-}" = several ] && { guest=guest-several.sh; sensors=${2:-4}; runs=${3:-1}; }
[ "${1:-}" = bluez ] && { guest=guest-bluez.sh; runs=${2:-1}; limit=1800; part=${3:-all}; }
node_modules/.bin/esbuild kernel-hub=tests/bluetooth/kernel/kernel-hub.ts kernel-several=tests/bluetooth/kernel/kernel-several.ts kernel-bluez=tests/bluetooth/kernel/kernel-bluez.ts radio-child=hub/sensors/bluetooth/radio-child.ts \
  --bundle --platform=node --format=esm --target=node20 --packages=external --outdir=dist/bluetooth-rig --log-level=error
version=$(apt-cache depends linux-image-amd64 | sed -n 's/.*Depends: linux-image-//p' | head -1)
[ -n "$version" ] || cannot 'no Debian kernel package is known to apt'
if [ ! -e "$work/kernel-$version" ]; then
  (cd "$work" && apt-get download -qq "linux-image-$version" >/dev/null 2>&1) || cannot 'the kernel package could not be downloaded'
  (cd "$work" && dpkg-deb --fsys-tarfile "linux-image-$version"_*.deb | tar x --wildcards './boot/vmlinuz*' './lib/modules/*/modules.*' \
    './lib/modules/*/kernel/drivers/bluetooth/*' './lib/modules/*/kernel/drivers/virtio/*' './lib/modules/*/kernel/net/bluetooth/*' \
    './lib/modules/*/kernel/net/9p/*' './lib/modules/*/kernel/net/rfkill/*' './lib/modules/*/kernel/fs/9p/*' \
    './lib/modules/*/kernel/fs/fscache/*' './lib/modules/*/kernel/fs/netfs/*' './lib/modules/*/kernel/fs/overlayfs/*' \
    './lib/modules/*/kernel/crypto/*' './lib/modules/*/kernel/lib/*' './lib/modules/*/kernel/arch/x86/crypto/*' && depmod -b . "$version")
  rm -f "$work"/*.deb; touch "$work/kernel-$version"
fi
rm -rf "$work/initrd"; mkdir -p "$work"/initrd/{bin,mod,dev,proc,sys,newroot,up,lower}
cp /bin/busybox "$work/initrd/bin/"; ln -s busybox "$work/initrd/bin/sh"
for module in virtio_pci 9pnet_virtio 9p overlay algif_hash algif_skcipher cmac ecb aes_generic ctr hmac sha256_generic sha512_generic jitterentropy_rng drbg ecdh_generic hci_vhci; do
  modprobe -d "$work" -S "$version" --show-depends "$module" 2>/dev/null | awk '$1 == "insmod" { print $2 }' || true
done | awk '!seen[$0]++' | while read -r file; do cp "$file" "$work/initrd/mod/"; basename "$file" >>"$work/initrd/mod/order"; done
passed=0
for ((run = 1; run <= runs; run++)); do
settings="PART=$part RADIO_LIBRARY=${LIBRARY:-noble} SENSORS=$sensors AIR_SEED=$run RADIO_CHILD=${RADIO_CHILD:-radio-child}"
sed -e "s#KERNEL_RIG/guest.sh#$root/tests/bluetooth/kernel/$guest#" -e "s#^export PATH#export $settings PATH#" tests/bluetooth/kernel/init.sh >"$work/initrd/init"
chmod +x "$work/initrd/init"
(cd "$work/initrd" && find . | cpio -o -H newc --quiet | gzip -1) >"$work/initrd.gz"
# Emulated, not virtualised: a guest under KVM hangs on some hosts.
timeout "$limit" qemu-system-x86_64 -accel tcg,thread=multi -cpu max -m 1024 -smp 2 -display none -no-reboot -nodefaults -serial stdio \
  -kernel "$work/boot/vmlinuz-$version" -initrd "$work/initrd.gz" \
  -append 'console=ttyS0 quiet loglevel=3 panic=-1 mitigations=off random.trust_cpu=on' \
  -virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap -device virtio-rng-pci </dev/null 2>&1 |
  stdbuf -oL tr -d '\r' | tee "$work/log" | grep --line-buffered -aE '^(GUEST|HUB)' || true
grep -aq '^GUEST status 0' "$work/log" && passed=$((passed + 1))
done
echo "$passed of $runs runs passed"
[ "$passed" = "$runs" ]
