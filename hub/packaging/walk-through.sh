#!/usr/bin/env bash
# From the package to a first recorded session on the page, as a newcomer goes: installs, starts the demo, then a real browser
# does the rest with no terminal (tests/tools/walk-through.ts). Simulated sensors stand in for hardware. A picture a step
# and the time of each go to the folder given. Needs a checkout with "npm ci" and Chromium.
# Usage: hub/packaging/walk-through.sh npm|deb [FOLDER]
#   npm  the tarball, by "npm i -g"; compiles where no built database can be fetched
#   deb  the Debian package on a bare Debian in a folder; needs root, debootstrap and a mirror (MIRROR)
set -euo pipefail
cd "$(dirname "$0")/../.."
way="${1:?npm or deb}"
out="$(realpath -m "${2:-artefacts/walk-through-$way}")"
mirror="${MIRROR:-http://deb.debian.org/debian}"
mkdir -p "$out"
work="$(mktemp -d /var/tmp/slackwater-walk-XXXX)"
hub=""
cleanup() {
  [ -z "$hub" ] || kill "$hub" 2>/dev/null || true
  [ -z "$hub" ] || wait "$hub" 2>/dev/null || true
  for place in proc dev; do umount -l "$work/debian/$place" 2>/dev/null || true; done
  rm -rf "$work"
}
trap cleanup EXIT

npm run --silent build
case "$way" in
npm)
  package="$work/$(npm pack --silent --ignore-scripts --pack-destination "$work")"
  started="$(date +%s%3N)"
  npm i -g --silent --prefix "$work/prefix" "$package" >"$out/install.log" 2>&1 || { tail -5 "$out/install.log"; exit 1; }
  slackwater() { exec env SLACKWATER_OPEN=false "$work/prefix/bin/slackwater" "$@" --data "$work/data"; }
  ;;
deb)
  package="$(bash hub/packaging/build-deb.sh "$work")"
  # The computer that the newcomer already has is no part of the walk.
  debootstrap --variant=minbase trixie "$work/debian" "$mirror" >"$out/debian.log" 2>&1 || { tail -5 "$out/debian.log"; exit 1; }
  mount -t proc proc "$work/debian/proc"
  mount --bind /dev "$work/debian/dev"
  cp /etc/resolv.conf "$work/debian/etc/resolv.conf"
  cp "$package" "$work/debian/tmp/slackwater.deb"
  in_debian() { chroot "$work/debian" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root DEBIAN_FRONTEND=noninteractive "$@"; }
  in_debian apt-get update -qq >"$out/install.log" 2>&1
  started="$(date +%s%3N)"
  in_debian apt-get install -y -qq /tmp/slackwater.deb >>"$out/install.log" 2>&1 || { tail -5 "$out/install.log"; exit 1; }
  slackwater() { exec chroot "$work/debian" /usr/bin/env -i PATH=/usr/bin:/bin HOME=/root SLACKWATER_OPEN=false slackwater "$@" --data /tmp/walk; }
  ;;
*)
  sed -n '2,7s/^# //p' "$0"
  exit 2
  ;;
esac
installed_ms=$(($(date +%s%3N) - started))

started="$(date +%s%3N)"
(slackwater demo --port 0 --no-alarm-sound --no-watchdog) >"$out/hub.log" 2>&1 &
hub=$!
link=""
for _ in $(seq 600); do
  link="$(grep -oE 'http://\S+#own=\S+' "$out/hub.log" | head -1 || true)"
  [ -z "$link" ] || break
  kill -0 "$hub" 2>/dev/null || { cat "$out/hub.log"; exit 1; }
  sleep 0.1
done
[ -n "$link" ] || { cat "$out/hub.log"; exit 1; }
started_ms=$(($(date +%s%3N) - started))
npx tsx tests/tools/walk-through.ts "$link" "$out" "$way" "$installed_ms" "$started_ms"
