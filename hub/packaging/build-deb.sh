#!/usr/bin/env bash
# Makes slackwater_VERSION_ARCH.deb from a checkout in which "npm ci" has run, for this machine's architecture or, with a cross
# compiler, for another: amd64 or arm64. The program, the page and every module it needs lie in it, natively built: installing
# needs no compiler and no network.
# Usage: hub/packaging/build-deb.sh [--arch amd64|arm64] [FOLDER]   (where the package goes; artefacts/ when left out)
# For another architecture: apt-get install g++-aarch64-linux-gnu (or g++-x86-64-linux-gnu). The modules that come as source are
# compiled once and kept in artefacts/native-ARCH/; this machine's Node has to be of the version it is for.
set -euo pipefail
cd "$(dirname "$0")/../.."

here="$(dpkg --print-architecture)"
architecture="$here"
if [ "${1:-}" = --arch ]; then architecture="${2:?--arch needs amd64 or arm64}"; shift 2; fi
out="${1:-artefacts}"
version="$(node -p "require('./package.json').version")"
# As Node, the compiler and the ELF header (e_machine, ELF-64 Object File Format) call it.
case "$architecture" in
  amd64) node_arch=x64 triplet=x86_64-linux-gnu machine=3e ;;
  arm64) node_arch=arm64 triplet=aarch64-linux-gnu machine=b7 ;;
  *) [ "$architecture" = "$here" ] || { echo "--arch is amd64 or arm64, not \"$architecture\"." >&2; exit 2; }
     node_arch="$(node -p process.arch)" triplet='' machine='' ;;
esac
mkdir -p "$out"
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

# Two modules come as source and are compiled against one version of Node; the others bring a binary for each architecture.
if [ "$architecture" != "$here" ]; then
  command -v "$triplet-g++" >/dev/null || { echo "There is no compiler for $architecture: apt-get install g++-${triplet//_/-}." >&2; exit 2; }
  headers="$(dirname "$(dirname "$(node -p process.execPath)")")"
  [ -e "$headers/include/node/node.h" ] || { echo "Node's headers are not in $headers/include/node." >&2; exit 2; }
  native="artefacts/native-$architecture"
  mkdir -p "$native"
  cross() { # FOLDER MODULE WHERE... : compiles it, unless it is kept, and puts it where it belongs
    local folder="$home/node_modules/$1" module="$2"; shift 2
    local kept
    kept="$PWD/$native/$module-$(node -p "require('$folder/package.json').version")-node-$(node -p process.versions.modules).node"
    rm -rf "$folder/build" "$folder/lib/binding"
    if [ ! -e "$kept" ]; then
      (cd "$folder" && CC="$triplet-gcc" CXX="$triplet-g++" AR="$triplet-ar" LINK="$triplet-g++" \
        node "$gyp" rebuild --release --silent "--arch=$node_arch" "--nodedir=$headers" \
        -- "-Dmodule_name=$module" "-Dmodule_path=$folder/lib/binding") >"$native/$module.log" 2>&1 ||
        { tail -20 "$native/$module.log" >&2; exit 2; }
      cp "$folder/build/Release/$module.node" "$kept"
    fi
    for place in "$@"; do install -D -m 644 "$kept" "$folder/$place/$module.node"; done
  }
  gyp="$(node -p "require.resolve('node-gyp/bin/node-gyp.js')")"
  cross better-sqlite3 better_sqlite3 build/Release
  cross @abandonware/bluetooth-hci-socket bluetooth_hci_socket build/Release
  # A binding for other systems, empty on Linux and never loaded there.
  rm -rf "$home/node_modules/@abandonware/noble/build"
fi
find "$home/node_modules" \( -name obj -o -name obj.target -o -name '.deps' -o -name '*.o' -o -name '*.a' \) -prune -exec rm -rf {} +
rm -rf "$home/node_modules/better-sqlite3/deps" "$home/node_modules/better-sqlite3/src"
find "$home/node_modules" -name '*.map' -delete
find "$home/node_modules" -type d -name prebuilds -prune -print0 |
  while IFS= read -r -d '' folder; do
    find "$folder" -mindepth 1 -maxdepth 1 -type d ! -name "linux-$node_arch" -exec rm -rf {} +
  done
if [ -n "$machine" ]; then
  find "$home" -name '*.node' -print0 | while IFS= read -r -d '' binary; do
    [ "$(od -An -tx1 -j18 -N1 "$binary" | tr -d ' ')" = "$machine" ] ||
      { echo "${binary#"$home/"} is not for $architecture." >&2; exit 2; }
  done
fi

ln -s ../lib/slackwater/hub/slackwater.mjs "$stage/usr/bin/slackwater"
chmod 755 "$home/hub/slackwater.mjs"
# The school's is there and not started: set-up-school.sh does.
cp hub/packaging/slackwater.service hub/packaging/slackwater-school.service "$stage/usr/lib/systemd/system/"
chmod 755 "$home/hub/packaging/set-up-school.sh"
cp hub/packaging/debian/sysusers.conf "$stage/usr/lib/sysusers.d/slackwater.conf"
cp hub/packaging/debian/copyright "$stage/usr/share/doc/slackwater/copyright"
for script in postinst prerm postrm; do install -m 755 "hub/packaging/debian/$script" "$stage/DEBIAN/$script"; done
sed -e "s/@VERSION@/$version/" -e "s/@ARCHITECTURE@/$architecture/" \
  -e "s/@SIZE@/$(du -sk "$stage/usr" | cut -f1)/" hub/packaging/debian/control.in >"$stage/DEBIAN/control"

package="$out/slackwater_${version}_${architecture}.deb"
dpkg-deb --root-owner-group --build "$stage" "$package" >/dev/null
echo "$package"
