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
packages=(bluez-test-tools bluez dbus python3-dbus python3-gi qemu-system-x86 busybox-static cpio kmod xz-utils)
for package in "${packages[@]}"; do
  dpkg -s "$package" >/dev/null 2>&1 || cannot "the Debian package $package is not installed (needed: ${packages[*]})"
done
guest=guest.sh sensors=0 runs=1 limit=300 part=all
[ "${1:-}" = several ] && { guest=guest-several.sh; sensors=${2:-4}; runs=${3:-1}; }
[ "${1:-}" = bluez ] && { guest=guest-bluez.sh; runs=${2:-1}; limit=1800; part=${3:-all}; }
node_modules/.bin/esbuild kernel-hub=tests/bluetooth/kernel/kernel-hub.ts kernel-several=tests/bluetooth/kernel/kernel-several.ts kernel-bluez=tests/bluetooth/kernel/kernel-bluez.ts radio-child=hub/sensors/bluetooth/radio-child.ts \
  --bundle --platform=node --format=esm --target=node20 --packages=external --outdir=dist/bluetooth-rig --log-level=error
# Debian's kernel from 6.12.20 on: those of 6.1 crash in hci_chan_del as links end (README of hub/sensors/bluetooth). Asked
# of the archive that this machine has its packages from, by a package list of our own beside the system's; apt compares
# signatures with the machine's keys of Debian. SUITE names another release of it.
suite=${SUITE:-trixie}
mirror=$(apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' 'Origin: Debian' 'Label: Debian' | sort -u | head -1)
[ -n "$mirror" ] || cannot "apt knows no archive of Debian's"
apt=$work/apt; mkdir -p "$apt"/{lists,cache/archives}/partial
echo "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] $mirror $suite main" >"$apt/sources"
cat >"$apt/config" <<CONFIG
Dir::State::lists "$apt/lists"; Dir::Cache "$apt/cache"; Dir::Etc::sourcelist "$apt/sources"; Dir::Etc::sourceparts "-";
Dir::Cache::pkgcache ""; Dir::Cache::srcpkgcache ""; Acquire::Languages "none"; APT::Sandbox::User "";
CONFIG
ask() { APT_CONFIG=$apt/config "$@"; }
if [ ! -e "$work/kernel-$suite" ]; then
  ask apt-get update -qq >"$apt/log" 2>&1 || cannot "the list of $suite could not be had: $(tail -1 "$apt/log")"
  version=$(ask apt-cache depends linux-image-amd64 | sed -n 's/.*Depends: linux-image-//p' | head -1)
  [ -n "$version" ] || cannot "$suite has no kernel package"
  package=$(ask apt-cache show "linux-image-$version" | sed -n 's/^Version: //p' | head -1)
  dpkg --compare-versions "$package" ge 6.12.20 || cannot "the kernel of $suite is $package; 6.12.20 is needed"
  (cd "$work" && rm -rf boot lib usr && ask apt-get download -qq "linux-image-$version" >"$apt/log" 2>&1) || cannot "the kernel package could not be had: $(tail -1 "$apt/log")"
  (cd "$work" && dpkg-deb --fsys-tarfile "linux-image-$version"_*.deb | tar x --wildcards './boot/vmlinuz*' '*/lib/modules/*/modules.*' \
    '*/kernel/drivers/bluetooth/*' '*/kernel/drivers/virtio/*' '*/kernel/net/bluetooth/*' '*/kernel/net/9p/*' '*/kernel/net/rfkill/*' \
    '*/kernel/fs/9p/*' '*/kernel/fs/netfs/*' '*/kernel/fs/overlayfs/*' '*/kernel/crypto/*' '*/kernel/lib/*' '*/kernel/arch/x86/crypto/*' &&
    { [ -e lib ] || ln -s usr/lib lib; } && find lib/modules/ -name '*.ko.xz' -exec xz -d {} + && depmod -b . "$version") || cannot 'the kernel package is laid out in another way'
  rm -f "$work"/*.deb; echo "$version $package" >"$work/kernel-$suite"
fi
read -r version package <"$work/kernel-$suite"
echo "kernel: $version, package $package of $suite, by apt"
rm -rf "$work/initrd"; mkdir -p "$work"/initrd/{bin,mod,dev,proc,sys,newroot,up,lower}
cp /bin/busybox "$work/initrd/bin/"; ln -s busybox "$work/initrd/bin/sh"
for module in virtio_pci 9pnet_virtio 9p overlay algif_hash algif_skcipher cmac ecb aes_generic ctr hmac sha256_generic sha512_generic jitterentropy_rng drbg ecdh_generic hci_vhci; do
  modprobe -d "$work" -S "$version" --show-depends "$module" 2>/dev/null | awk '$1 == "insmod" { print $2 }' || true
done | awk '!seen[$0]++' | while read -r file; do cp "$file" "$work/initrd/mod/"; basename "$file" >>"$work/initrd/mod/order"; done
# Virtualised where that works: some hosts have /dev/kvm and let no ordinary kernel begin.
accel=(-accel tcg,thread=multi -cpu max)
boot() { # seconds, further options
  timeout "$1" qemu-system-x86_64 "${@:2}" -m 1024 -smp 2 -display none -no-reboot -nodefaults -serial stdio -kernel "$work/boot/vmlinuz-$version" \
    -append 'console=ttyS0 quiet loglevel=3 panic=-1 mitigations=off random.trust_cpu=on' -device virtio-rng-pci </dev/null 2>&1
}
if [ -w /dev/kvm ]; then
  printf '#!/bin/sh\necho GUEST up\n/bin/busybox poweroff -f\n' >"$work/initrd/init"; chmod +x "$work/initrd/init"
  (cd "$work/initrd" && find . | cpio -o -H newc --quiet | gzip -1) >"$work/initrd.gz"
  boot 20 -accel kvm -cpu host -initrd "$work/initrd.gz" | grep -aq '^GUEST up' && accel=(-accel kvm -cpu host)
fi
echo "processor: ${accel[1]%%,*}"
passed=0 began=$SECONDS
for ((run = 1; run <= runs; run++)); do
settings="PART=$part RADIO_LIBRARY=${LIBRARY:-noble} SENSORS=$sensors AIR_SEED=$run RADIO_CHILD=${RADIO_CHILD:-radio-child}"
sed -e "s#KERNEL_RIG/guest.sh#$root/tests/bluetooth/kernel/$guest#" -e "s#^export PATH#export $settings PATH#" tests/bluetooth/kernel/init.sh >"$work/initrd/init"
chmod +x "$work/initrd/init"
(cd "$work/initrd" && find . | cpio -o -H newc --quiet | gzip -1) >"$work/initrd.gz"
boot "$limit" "${accel[@]}" -initrd "$work/initrd.gz" -virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap |
  stdbuf -oL tr -d '\r' | tee "$work/log" | grep --line-buffered -aE '^(GUEST|HUB)' || true
grep -aq '^GUEST status 0' "$work/log" && passed=$((passed + 1))
echo "run $run of $runs: $passed passed so far, ${SECONDS} s, load $(cut -d' ' -f1 /proc/loadavg)"
done
echo "$passed of $runs runs passed in $((SECONDS - began)) s; kernel $package, ${LIBRARY:-noble}, ${accel[1]%%,*}"
[ "$passed" = "$runs" ]
