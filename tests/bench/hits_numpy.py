"""Vectorised numpy yardstick for third-order hit counts.

Counts the hits of every third-order product on every carrier by computing all products, and
compares counts and time with what ``cargo bench --bench hits`` has left in
``target/hits_1000.json`` (another path may be given as the only argument).
"""

import json
import sys
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]

DEFAULT = Path(__file__).parents[2] / "target" / "hits_1000.json"


def windows(products: Integers, ascending: Integers, guard: int) -> Integers:
    """Return how many products lie nearer than the guard to each of the ascending carriers."""
    first = np.searchsorted(ascending, products - guard, side="right")
    last = np.searchsorted(ascending, products + guard, side="left")
    size = ascending.size + 1
    return np.cumsum(np.bincount(first, minlength=size) - np.bincount(last, minlength=size))[:-1]


def two_tone(carriers: Integers, guard: int) -> Integers:
    """Return the hits of 2A-B on each of the ascending carriers."""
    apart = np.abs(carriers[:, None] - carriers[None, :])
    others = ~np.eye(carriers.size, dtype=bool)
    products = (2 * carriers[:, None] - carriers[None, :])[others]
    total = windows(products, carriers, guard)
    total -= np.sum((apart < guard) & others, axis=1)  # on the source A
    total -= np.sum((2 * apart < guard) & others, axis=1)  # on the source B
    return total


def three_tone(carriers: Integers, guard: int) -> Integers:
    """Return the hits of A+B-C on each of the ascending carriers: all pairs A, B for every C."""
    a, b = np.triu_indices(carriers.size, 1)
    sums = carriers[a] + carriers[b]
    total = np.zeros(carriers.size, dtype=np.int64)
    for c, carrier in enumerate(carriers):
        valid = (a != c) & (b != c)
        products = sums[valid] - carrier
        total += windows(products, carriers, guard)
        total[c] -= np.count_nonzero(np.abs(products - carrier) < guard)  # on the source C
        near = np.abs(carriers - carrier) < guard
        near[c] = False
        # On the source A where B is near C, and the other way round.
        total -= np.bincount(a[valid & near[b]], minlength=carriers.size)
        total -= np.bincount(b[valid & near[a]], minlength=carriers.size)
    return total


def main() -> int:
    """Compare both counts and print both times."""
    record = json.loads(Path(sys.argv[1] if len(sys.argv) > 1 else DEFAULT).read_text())
    frequencies = np.array(record["frequencies_hz"], dtype=np.int64)
    order = np.argsort(frequencies)
    start = time.perf_counter()
    counts = {
        "2A-B": two_tone(frequencies[order], record["guard_hz"]),
        "A+B-C": three_tone(frequencies[order], record["guard_hz"]),
    }
    elapsed = time.perf_counter() - start
    for form, own in counts.items():
        engine = np.array(record["counts"][form])[order]
        if not np.array_equal(own, engine):
            print(f"{form}: the counts differ", file=sys.stderr)
            return 1
        print(f"{form}: {own.sum()} hits, equal on every carrier")
    engine_ms = record["best_of_20_ms"]
    print(f"numpy {elapsed:.2f} s; engine {engine_ms:.2f} ms on {record['threads']} threads")
    print(f"ratio {elapsed * 1e3 / engine_ms:.0f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
