#!/usr/bin/env bash
# Builds and runs the checks that the worlds' authors wrote: ranges, speed, and group values beside the published ones.
# Run: tests/training/worlds/checks/run.sh [SESSIONS] (200 if left out; g++)
set -euo pipefail
cd "$(dirname "$0")"
built=$(mktemp -d)
trap 'rm -rf "$built"' EXIT
for world in feedback curves conduct athletes clinic wear; do
  g++ -std=c++17 -O3 -march=x86-64-v3 -ffast-math -fno-finite-math-only -Wno-psabi -DWORLD_FEEDBACK_PROBE "$world.cpp" -o "$built/$world"
  echo "== $world (SIMULATED)"
  "$built/$world" "${1:-200}"
done
