"""Checks that practice.cpp makes the features that src/holds/row-features.ts makes, on real recordings.

Run: npx tsx tests/training/write-features.ts DATASETS /tmp/features.bin && python3 tests/training/check-features.py /tmp/features.bin
"""
import ctypes
import os
import subprocess
import sys

import numpy as np

here = os.path.dirname(os.path.abspath(__file__))
subprocess.check_call(["g++", "-O2", "-fPIC", "-shared", "-std=c++17", f"{here}/practice.cpp", "-o", "/tmp/libpractice-check.so"])
library = ctypes.CDLL("/tmp/libpractice-check.so")
data = open(sys.argv[1], "rb").read()
at, worst, count = 0, 0.0, 0
while at < len(data):
    (rows,) = np.frombuffer(data, np.int32, 1, at)
    rows = int(rows)
    numbers = np.frombuffer(data, np.float32, 5 * rows, at + 4).copy()
    at += 4 + 20 * rows
    for live in (0, 1):
        theirs = np.frombuffer(data, np.float32, 24 * rows, at).reshape(rows, 24).T
        at += 96 * rows
        ours = np.empty((24, rows), np.float32)
        library.features(numbers.ctypes.data_as(ctypes.c_void_p), rows, live, ours.ctypes.data_as(ctypes.c_void_p))
        worst = max(worst, float(np.abs(ours - theirs).max()))
        count += ours.size
print(f"{count} numbers, largest difference {worst:.2g}")
assert worst < 2e-2, "the features differ"
