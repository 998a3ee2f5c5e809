"""The largest set in occupied bands, beside plain local search on the same question.

    python tests/bench/occupied.py [--bands 138,72,36] [--taken 20,50,70] [--guards 100/100,...]
        [--step 25] [--patterns 3] [--seconds 1,3,10] [--threads 1] [--alone]

Channels of 6 MHz are taken at random, a fixed pattern per seed. Guards are those of 2A-B and of
A+B-C in kHz. Every cell is the mean size over the patterns: first `largest_set`, then local search
in the same time, with as many links as the bound allows and one more. The last lines count the
questions where the largest set is behind.
"""

from __future__ import annotations

import argparse
import random

import numpy as np

import sidon

CHANNEL = 6_000_000
SEPARATION = 350_000


def candidates(megahertz: int, taken: int, pattern: int, step: int) -> np.ndarray:
    """Raster positions of the channels left; `taken` per cent of them are occupied."""
    count = megahertz * 1_000_000 // CHANNEL
    occupied = random.Random(1_000 * taken + pattern).sample(range(count), count * taken // 100)
    raster = np.arange(0, count * CHANNEL, step)
    return 470_000_000 + raster[~np.isin(raster // CHANNEL, occupied)]


def both(
    free: np.ndarray, guards: dict[str, int], *, seconds: float, threads: int, alone: bool
) -> tuple[int, int]:
    """Carriers found by the largest set and by plain local search."""
    budget = {"seed": 1, "seconds": seconds, "threads": threads}
    found = sidon.largest_set(free, separation=SEPARATION, guards=guards, **budget)
    if alone:
        return found.size, 0
    links = min(found.upper_bound + 1, len(free))
    rules = [{"form": form, "guard_hz": hz} for form, hz in guards.items()]
    link = {"profile": 0, "zone": 0, "domain": 0}
    problem = sidon.Problem(
        profiles=[{"name": "carrier", "separation_hz": SEPARATION, "guards": rules}],
        zones=["place"],
        domains=[{"frequencies": free.tolist()}],
        links=[{"id": f"carrier {i + 1}", **link} for i in range(links)],
    )
    # A start, though an empty one, keeps the run to itself.
    plain = {"objective": "max-service", "method": "local-search", "start": [None] * links}
    served = sidon.solve(problem, **plain, **budget)
    return found.size, sum(hz is not None for hz in served.assignment.values())


def main() -> None:
    """Print one line per band, occupancy and guards."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--bands", default="138,72,36")
    parser.add_argument("--taken", default="20,50,70")
    parser.add_argument("--guards", default="100/100,50/50,100/0,200/100,300/50")
    parser.add_argument("--step", type=int, default=25)
    parser.add_argument("--patterns", type=int, default=3)
    parser.add_argument("--seconds", default="1,3,10")
    parser.add_argument("--threads", type=int, default=1)
    parser.add_argument("--alone", action="store_true", help="the largest set alone")
    asked = parser.parse_args()
    seconds = [float(text) for text in asked.seconds.split(",")]
    behind = dict.fromkeys(seconds, 0)
    total = 0
    print(f"step {asked.step} kHz; set/ls, mean of {asked.patterns} patterns")
    print("MHz  taken guards    " + "".join(f"{s:>14g} s" for s in seconds), flush=True)
    for band in asked.bands.split(","):
        for taken in asked.taken.split(","):
            for guards in asked.guards.split(","):
                two, three = (int(text) * 1_000 for text in guards.split("/"))
                cells = []
                for s in seconds:
                    sizes = []
                    for pattern in range(asked.patterns):
                        free = candidates(int(band), int(taken), pattern, asked.step * 1_000)
                        rules = {"2A-B": two, "A+B-C": three}
                        sizes.append(
                            both(free, rules, seconds=s, threads=asked.threads, alone=asked.alone)
                        )
                    behind[s] += sum(a < b for a, b in sizes)
                    cells.append(np.mean(sizes, axis=0))
                total += asked.patterns
                shown = "".join(f"{a:9.2f}/{b:6.2f}" for a, b in cells)
                print(f"{band:>4} {taken:>4}% {guards:>8}  {shown}", flush=True)
    for s in seconds:
        print(f"{s:g} s: behind local search in {behind[s]} of {total} questions")


if __name__ == "__main__":
    main()
