"""A million points: how long it takes to read, reduce and judge a scan.

    python tests/bench/scan_million.py

The scan is invented: noise and a few carriers, made by lot.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import sidon
from sidon import MHz

POINTS = 1_000_000
ROUNDS = 5


def texts() -> dict[str, str]:
    """Write one scan in several hands."""
    random = np.random.default_rng(1)
    where = 470 * MHz + np.arange(POINTS) * 138
    levels = -110 + 10 * np.log10(random.exponential(size=POINTS))
    levels[400_000:400_040] += 45
    hertz, level = where.tolist(), levels.round(2).tolist()
    rows = [f"{hz / 1e6:.6f},{dbm:.2f}" for hz, dbm in zip(hertz, level, strict=True)]
    comma = "Frequency (MHz),Level (dBm)\n" + "\n".join(rows)
    semicolon = comma.replace(",", ";").replace(".", ",")
    sweeps = POINTS // 1_000
    many = "\n".join(
        f"{(470_000_000 + 138_000 * (i % 1_000)) / 1e6:.3f}\t{dbm:.2f}"
        for i, dbm in enumerate(level)
    )
    return {
        "comma, one sweep": comma,
        "semicolon and decimal comma": semicolon,
        f"tabs, {sweeps:,} sweeps that start again": many,
        "a level missing": comma.replace("471.000084,", "471.000084,n/a #", 1) + "\n608.1,n/a\n",
    }


def main() -> None:
    """Print seconds for each step, the least of several rounds."""
    print(f"{POINTS:,} points, {Path(sys.executable).name} {sys.version.split()[0]}")
    print(f"{'input':45s} {'read':>7s} {'reduce':>7s} {'costs':>7s}   seconds")
    candidates = np.arange(470 * MHz, 608 * MHz, 25_000)
    with tempfile.TemporaryDirectory() as folder:
        for name, text in texts().items():
            path = Path(folder) / "scan.csv"
            path.write_text(text, encoding="utf-8")
            best = [float("inf")] * 3
            for _ in range(ROUNDS):
                marks = [time.perf_counter()]
                scan = sidon.Scan.from_file(path, resolution_bandwidth="200 Hz")
                marks.append(time.perf_counter())
                scan.max_hold()
                scan.mean()
                scan.occupied()
                marks.append(time.perf_counter())
                scan.costs(candidates)
                marks.append(time.perf_counter())
                steps = np.diff(marks).tolist()
                best = [min(pair) for pair in zip(best, steps, strict=True)]
            print(f"{name:45s} {best[0]:7.3f} {best[1]:7.3f} {best[2]:7.3f}")


if __name__ == "__main__":
    main()
