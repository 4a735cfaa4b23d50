#!/bin/bash
# The path that real users run: a real Linux kernel and the library's native socket. Without arguments one smoke test with
# BlueZ's daemon as the sensors; `several N [RUNS]` connects N sensors of the independent air at once, RUNS times;
# `bluez [RUNS] [forget]` pairs sensors of that air through BlueZ, as a user without rights; `forget` three sensors and the last
# step alone. LIBRARY=stoprocent takes the other library, LIBRARY=bluez BlueZ. MACHINE=uml (the rule) runs
# the kernel as a process, from Debian's source; MACHINE=qemu Debian's own kernel in an emulated machine.
# TRACE=1 keeps what HCI, the air and bluetoothd said in runs that fail, TRACE=2 in all, in dist/kernel-rig/trace-* (uml).
# SUITE names the release of Debian that it is taken from. Exits 0 when passed, 77 when it could not be run here (1 instead, in CI).
set -euo pipefail
cd "$(dirname "$0")/../../.."
root=$PWD; rig=$root/tests/bluetooth/kernel; work=$root/dist/kernel-rig; mkdir -p "$work"
cannot() { echo "KERNEL TEST NOT RUN: $1" >&2; [ -n "${CI:-}" ] && exit 1; exit 77; }
case $root/ in /tmp/*) cannot 'the guest has a /tmp of its own, which hides a checkout there' ;; esac
guest=guest.sh sensors=0 runs=1 limit=300 part=all machine=${MACHINE:-uml}
case ${1:-} in
  several) guest=guest-several.sh; sensors=${2:-4}; runs=${3:-1} ;;
  bluez) guest=guest-bluez.sh; runs=${2:-1}; limit=1800; part=${3:-all} ;;
  *) ;;
esac
packages=(bluez-test-tools bluez dbus python3-dbus python3-gi xz-utils)
needed() {
  for package in "${packages[@]}" "$@"; do
    dpkg -s "$package" >/dev/null 2>&1 || cannot "the Debian package $package is not installed (needed: ${packages[*]} $*)"
  done
}
# From the archive that this machine has its packages from, by a package list of our own beside the system's; apt compares
# signatures with the machine's keys of Debian.
ask() { APT_CONFIG=$work/apt/config "$@"; }
list_suite() {
  local mirror apt=$work/apt
  mirror=$(apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' 'Origin: Debian' 'Label: Debian' | sort -u | head -1)
  [ -n "$mirror" ] || cannot "apt knows no archive of Debian's"
  mkdir -p "$apt"/{lists,cache/archives}/partial
  echo "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] $mirror $1 main" >"$apt/sources"
  cat >"$apt/config" <<CONFIG
Dir::State::lists "$apt/lists"; Dir::Cache "$apt/cache"; Dir::Etc::sourcelist "$apt/sources"; Dir::Etc::sourceparts "-";
Dir::Cache::pkgcache ""; Dir::Cache::srcpkgcache ""; Acquire::Languages "none"; APT::Sandbox::User "";
CONFIG
  ask apt-get update -qq >"$apt/log" 2>&1 || cannot "the list of $1 could not be had: $(tail -1 "$apt/log")"
}
fetch() { # PACKAGE, into the folder that this is called in
  ask apt-get download -qq "$1" >"$work/apt/log" 2>&1 || cannot "$1 could not be had: $(tail -1 "$work/apt/log")"
}
node_modules/.bin/esbuild kernel-hub=tests/bluetooth/kernel/kernel-hub.ts kernel-several=tests/bluetooth/kernel/kernel-several.ts kernel-bluez=tests/bluetooth/kernel/kernel-bluez.ts radio-child=hub/sensors/bluetooth/radio-child.ts \
  --bundle --platform=node --format=esm --target=node20 --packages=external --outdir=dist/bluetooth-rig --log-level=error
init=$work/init-$$ log=$work/log-$$
trap 'rm -f "$init" "$log"' EXIT
# Defines `prepare`, which sets `kernel` to what it is and how it runs, and `boot SECONDS`, which runs $init as its first process.
# shellcheck source=/dev/null
source "$rig/machine-$machine.sh"
prepare
echo "kernel: $kernel"
passed=0 began=$SECONDS
for ((run = 1; run <= runs; run++)); do
  trace=; [ -z "${TRACE:-}" ] || { trace=$work/trace-$$-$run; mkdir -p "$trace"; }
  settings="TRACE=$trace PART=$part RADIO_LIBRARY=${LIBRARY:-noble} SENSORS=$sensors AIR_SEED=$run RADIO_CHILD=${RADIO_CHILD:-radio-child}"
  sed -e "s#KERNEL_RIG/guest.sh#$rig/$guest#" -e "s#^export PATH#export $settings PATH#" "$rig/init-$machine.sh" >"$init"
  chmod +x "$init"
  boot "$limit" | stdbuf -oL tr -d '\r' | tee "$log" | grep --line-buffered -aE '^(GUEST|HUB)' || true
  if grep -aq '^GUEST status 0' "$log"; then
    passed=$((passed + 1)); [ "${TRACE:-0}" = 2 ] || rm -rf "$trace"
  else
    cp "$log" "$work/log-failed-$$-$run"
  fi
  echo "run $run of $runs: $passed passed so far, $((SECONDS - began)) s, load $(cut -d' ' -f1 /proc/loadavg)"
done
echo "$passed of $runs runs passed in $((SECONDS - began)) s; $kernel; ${LIBRARY:-noble}"
[ "$passed" = "$runs" ]
