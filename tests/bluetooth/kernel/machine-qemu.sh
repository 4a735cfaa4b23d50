# Debian's own kernel in QEMU: virtualised where that works, emulated elsewhere. Those of 6.1 crash in hci_chan_del as links end
# (hub/sensors/bluetooth/README.md), so that only the smoke test, whose controllers hold one link each, runs on one.
prepare() {
  needed qemu-system-x86 busybox-static cpio kmod
  local suite=${SUITE:-$([ "$guest" = guest.sh ] && echo bookworm || echo trixie)} version package
  if [ ! -e "$work/kernel-$suite" ]; then
    list_suite "$suite"
    version=$(ask apt-cache depends -t "$suite" linux-image-amd64 | sed -n 's/.*Depends: linux-image-//p' | head -1)
    [ -n "$version" ] || cannot "$suite has no kernel package"
    (
      cd "$work" && rm -rf boot lib usr ./*.deb && fetch "linux-image-$version"
      dpkg-deb --fsys-tarfile "linux-image-$version"_*.deb | tar x --wildcards './boot/vmlinuz*' '*/lib/modules/*/modules.*' \
        '*/kernel/drivers/bluetooth/*' '*/kernel/drivers/virtio/*' '*/kernel/net/bluetooth/*' '*/kernel/net/9p/*' '*/kernel/net/rfkill/*' \
        '*/kernel/fs/*' '*/kernel/crypto/*' '*/kernel/lib/*' '*/kernel/arch/x86/crypto/*'
      [ -e lib ] || ln -s usr/lib lib
      find lib/modules/ -name '*.ko.xz' -exec xz -d {} + && depmod -b . "$version"
    ) || cannot 'the kernel package is laid out in another way'
    package=$(dpkg-deb -f "$work"/linux-image-*.deb Version)
    [ "$guest" = guest.sh ] || dpkg --compare-versions "$package" ge 6.12.20 || cannot "the kernel of $suite is $package; 6.12.20 is needed"
    rm -f "$work"/*.deb; echo "$version $package" >"$work/kernel-$suite"
  fi
  read -r version package <"$work/kernel-$suite"
  image=$work/boot/vmlinuz-$version
  rm -rf "$work/initrd"; mkdir -p "$work"/initrd/{bin,mod,dev,proc,sys,newroot,up,lower}
  cp /bin/busybox "$work/initrd/bin/"; ln -s busybox "$work/initrd/bin/sh"
  for module in virtio_pci 9pnet_virtio 9p overlay algif_hash algif_skcipher cmac ecb aes_generic ctr hmac sha256_generic sha512_generic jitterentropy_rng drbg ecdh_generic hci_vhci; do
    modprobe -d "$work" -S "$version" --show-depends "$module" 2>/dev/null | awk '$1 == "insmod" { print $2 }' || true
  done | awk '!seen[$0]++' | while read -r file; do cp "$file" "$work/initrd/mod/"; basename "$file" >>"$work/initrd/mod/order"; done
  accel=(-accel tcg,thread=multi -cpu max)
  if [ -w /dev/kvm ]; then
    # Some hosts have /dev/kvm and let no ordinary kernel begin.
    printf '#!/bin/sh\necho GUEST up\n/bin/busybox poweroff -f\n' >"$init"; chmod +x "$init"
    start 20 -accel kvm -cpu host | grep -aq '^GUEST up' && accel=(-accel kvm -cpu host)
  fi
  kernel="Debian's package $package of $suite, by apt, in QEMU (${accel[1]%%,*})"
}
start() { # SECONDS, further options
  cp "$init" "$work/initrd/init"
  (cd "$work/initrd" && find . | cpio -o -H newc --quiet | gzip -1) >"$work/initrd.gz"
  timeout "$1" qemu-system-x86_64 "${@:2}" -m 1024 -smp 2 -display none -no-reboot -nodefaults -serial stdio -kernel "$image" -initrd "$work/initrd.gz" \
    -append 'console=ttyS0 quiet loglevel=3 panic=-1 mitigations=off random.trust_cpu=on' -device virtio-rng-pci </dev/null 2>&1
}
boot() {
  start "$1" "${accel[@]}" -virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap
}
