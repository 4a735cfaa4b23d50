#!/usr/bin/env bash
# Tries the Debian package on a bare Debian in a folder: installs without compiler, answers, upgrades and purges with the
# recordings kept. Needs root, debootstrap and a Debian mirror. Prints a line a step and fails at the first that is wrong.
# Usage: hub/packaging/try-deb.sh PACKAGE.deb [MIRROR]
set -euo pipefail
package="$(realpath "$1")"
mirror="${2:-http://deb.debian.org/debian}"
# The first release whose own nodejs is new enough (20.19).
release=trixie
root="$(mktemp -d /var/tmp/slackwater-debian-XXXX)"
cleanup() {
  for place in proc dev; do umount -l "$root/$place" 2>/dev/null || true; done
  rm -rf "$root"
}
trap cleanup EXIT

in_debian() { chroot "$root" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root DEBIAN_FRONTEND=noninteractive "$@"; }
said() { echo "ok    $*"; }
wrong() { echo "FAIL  $*"; exit 1; }

debootstrap --variant=minbase "$release" "$root" "$mirror" >"$root.log" 2>&1 || { tail -5 "$root.log"; wrong "no bare Debian could be made"; }
mount -t proc proc "$root/proc"
mount --bind /dev "$root/dev"
cp /etc/resolv.conf "$root/etc/resolv.conf"
said "a bare Debian $release"

cp "$package" "$root/tmp/slackwater.deb"
in_debian apt-get update -qq
in_debian apt-get install -y -qq --no-install-recommends /tmp/slackwater.deb curl >"$root.log" 2>&1 || { tail -20 "$root.log"; wrong "does not install"; }
in_debian sh -c '! command -v gcc && ! command -v make' >/dev/null || wrong "a compiler came along"
said "installs with no compiler: $(in_debian slackwater --version)"
in_debian getent passwd slackwater >/dev/null || wrong "its user is missing"

in_debian slackwater doctor --data /var/lib/slackwater | sed 's/^/      /' || true

in_debian sh -c 'SLACKWATER_OPEN=false slackwater demo --data /tmp/trial --port 7999 >/tmp/demo.log 2>&1 & echo $! >/tmp/demo.pid'
for _ in $(seq 60); do in_debian curl -fsS -o /dev/null http://127.0.0.1:7999/ 2>/dev/null && break; sleep 0.5; done
in_debian curl -fsS http://127.0.0.1:7999/ | grep -q '<title>' || { cat "$root/tmp/demo.log"; wrong "the demo does not answer"; }
in_debian sh -c 'kill $(cat /tmp/demo.pid)'
said "the demo answers with its page"

# An upgrade: the same package under a later version.
mkdir -p "$root/var/lib/slackwater" && echo kept >"$root/var/lib/slackwater/recordings.sqlite"
in_debian sh -c 'cd /tmp && dpkg-deb -R slackwater.deb later && sed -i "s/^Version: .*/Version: 99.0/" later/DEBIAN/control && dpkg-deb --root-owner-group -b later later.deb >/dev/null'
in_debian apt-get install -y -qq /tmp/later.deb >"$root.log" 2>&1 || { tail -20 "$root.log"; wrong "does not upgrade"; }
grep -q kept "$root/var/lib/slackwater/recordings.sqlite" || wrong "an upgrade lost the recordings"
said "an upgrade keeps the recordings"

in_debian apt-get purge -y -qq slackwater >"$root.log" 2>&1 || wrong "does not purge"
grep -q kept "$root/var/lib/slackwater/recordings.sqlite" || wrong "a purge deleted recordings that nobody asked it to"
[ ! -e "$root/usr/lib/slackwater" ] || wrong "a purge left the program"
said "a purge keeps the recordings"
in_debian apt-get install -y -qq --no-install-recommends /tmp/slackwater.deb >/dev/null 2>&1
in_debian env SLACKWATER_DELETE_RECORDINGS=yes apt-get purge -y -qq slackwater >/dev/null 2>&1
[ ! -e "$root/var/lib/slackwater" ] || wrong "asked to, a purge did not delete the recordings"
said "asked to, a purge deletes them"
rm -f "$root.log"
