#!/bin/sh
# Builds kernel.c (Debian: clang, lld) into src/holds/layer-kernel.ts. Run: sh tests/training/build-kernel.sh
set -e
here=$(dirname "$0")
out=$(mktemp)
clang --target=wasm32 -O2 -msimd128 -nostdlib -Wl,--no-entry -Wl,--import-memory -Wl,--strip-all -o "$out" "$here/kernel.c"
{
  echo '// The sums of the hold networks as WebAssembly with SIMD, made by tests/training/build-kernel.sh from kernel.c.'
  echo '// Not written by hand.'
  echo
  echo '/** The module, base64 (RFC 4648 section 4). Imports its memory as env.memory; exports `first`, `layer`, `last` and `stream_row`. */'
  echo 'export const layerKernel ='
  echo "  '$(base64 -w 0 "$out")';"
} > "$here/../../src/holds/layer-kernel.ts"
rm "$out"
