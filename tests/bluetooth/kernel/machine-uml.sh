# Linux as a process (arch/um) from Debian's kernel source, without an emulated processor: a hundred times as fast where there is no
# virtualisation. Processes inside and the kernel hand over to each other at each system call; where the machine is
# loaded, NICE=-10 keeps that from waiting. Linux from 6.16 on is needed: one before keeps no room for the registers of new processors.
prepare() {
  needed busybox-static make gcc flex bison bc libc6-dev
  local suite=${SUITE:-trixie-backports} version
  if [ ! -e "$work/uml-$suite" ]; then
    list_suite "$suite"
    version=$(ask apt-cache depends -t "$suite" linux-source | sed -n 's/.*Depends: linux-source-//p' | head -1)
    [ -n "$version" ] || cannot "$suite has no kernel source"
    dpkg --compare-versions "$version" ge 6.16 || cannot "the kernel source of $suite is $version; 6.16 is needed"
    echo "building Linux $version once (minutes)" >&2
    rm -rf "$work/source"; mkdir -p "$work/source"
    (
      cd "$work/source" && fetch "linux-source-$version"
      dpkg-deb --fsys-tarfile linux-source-*.deb | tar xO "./usr/src/linux-source-$version.tar.xz" | xz -dcT0 |
        tar x --strip-components=1 --exclude='*/Documentation' --exclude='*.dts' --exclude='*.dtsi' --exclude='*/include/asic_reg/*'
      mkdir Documentation; touch Documentation/Kconfig
      make ARCH=um tinyconfig && cat "$rig/uml.config" >>.config && make ARCH=um olddefconfig && make ARCH=um -j"$(nproc)" linux
      dpkg-deb -f linux-source-*.deb Version >"$work/uml-version"
    ) >"$work/build.log" 2>&1 || cannot "the kernel could not be built: see $work/build.log"
    cp "$work/source/linux" "$work/linux-$suite"; mv "$work/uml-version" "$work/uml-$suite"; rm -rf "$work/source"
  fi
  image=$work/linux-$suite
  kernel="Debian's source $(cat "$work/uml-$suite") of $suite, by apt, compiled here as a process (uml)"
}
boot() {
  timeout "$1" nice -n "${NICE:-0}" "$image" umid="rig-$$" mem=1536M root=/dev/root rootfstype=hostfs rootflags=/ ro init="$init" \
    con=null con0=null,fd:1 quiet seccomp=auto </dev/null 2>&1
}
