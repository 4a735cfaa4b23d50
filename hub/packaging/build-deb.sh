#!/usr/bin/env bash
# Makes slackwater_VERSION_ARCH.deb for this machine's architecture from a checkout in which "npm ci" has run.
# The program, the page and every module it needs lie in it, natively built: installing needs no compiler and no network.
# Usage: hub/packaging/build-deb.sh [FOLDER]   (where the package goes; artefacts/ when left out)
set -euo pipefail
cd "$(dirname "$0")/../.."

out="${1:-artefacts}"
mkdir -p "$out"
version="$(node -p "require('./package.json').version")"
architecture="$(dpkg --print-architecture)"
stage="$(mktemp -d)"
trap 'rm -rf "$stage"' EXIT
chmod 755 "$stage"
home="$stage/usr/lib/slackwater"
mkdir -p "$home" "$stage/usr/bin" "$stage/usr/lib/systemd/system" "$stage/usr/lib/sysusers.d" "$stage/DEBIAN" \
  "$stage/usr/share/doc/slackwater"

# What "npm pack" would publish is what the package holds.
tarball="$(npm pack --silent --ignore-scripts --pack-destination "$stage")"
tar -xzf "$stage/$tarball" -C "$home" --strip-components=1
rm "$stage/$tarball"
[ -e "$home/dist/hub/main.js" ] || { echo "Nothing is built: run npm run build first." >&2; exit 2; }

# The modules as installed here, less what only building needs.
cp package-lock.json "$home/"
cp -a node_modules "$home/node_modules"
(cd "$home" && npm pkg delete scripts && npm prune --silent --omit=dev --ignore-scripts --no-audit --no-fund) >/dev/null
rm "$home/package-lock.json"
find "$home/node_modules" \( -name obj -o -name obj.target -o -name '.deps' -o -name '*.o' -o -name '*.a' \) -prune -exec rm -rf {} +
rm -rf "$home/node_modules/better-sqlite3/deps" "$home/node_modules/better-sqlite3/src"
find "$home/node_modules" -name '*.map' -delete
find "$home/node_modules" -type d -name prebuilds -prune -print0 |
  while IFS= read -r -d '' folder; do
    find "$folder" -mindepth 1 -maxdepth 1 -type d ! -name "linux-*" -exec rm -rf {} +
  done

ln -s ../lib/slackwater/hub/slackwater.mjs "$stage/usr/bin/slackwater"
chmod 755 "$home/hub/slackwater.mjs"
cp hub/packaging/slackwater.service "$stage/usr/lib/systemd/system/"
cp hub/packaging/debian/sysusers.conf "$stage/usr/lib/sysusers.d/slackwater.conf"
cp hub/packaging/debian/copyright "$stage/usr/share/doc/slackwater/copyright"
for script in postinst prerm postrm; do install -m 755 "hub/packaging/debian/$script" "$stage/DEBIAN/$script"; done
sed -e "s/@VERSION@/$version/" -e "s/@ARCHITECTURE@/$architecture/" \
  -e "s/@SIZE@/$(du -sk "$stage/usr" | cut -f1)/" hub/packaging/debian/control.in >"$stage/DEBIAN/control"

package="$out/slackwater_${version}_${architecture}.deb"
dpkg-deb --root-owner-group --build "$stage" "$package" >/dev/null
echo "$package"
