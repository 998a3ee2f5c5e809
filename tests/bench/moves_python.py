"""Moves per second of a heuristic in Python, beside `cargo bench --bench moves`: the same problem.

200 links of one profile on 5,520 steps of 25 kHz, guards of 100 kHz on 2A-B and A+B-C. A move
takes a random link off the air and puts it on a random step; the row is read once, or not at all.

    maturin develop --release && python tests/bench/moves_python.py
"""

from __future__ import annotations

import timeit
from collections.abc import Callable

import numpy as np

import sidon
from sidon import MHz, kHz

LINKS = 200
STEPS = 5_520
SECONDS = 2.0
DRAWN = 1 << 16


def problem() -> sidon.Problem:
    """Return the problem of the Rust benchmark."""
    return sidon.Problem.simple(
        range(470 * MHz, 470 * MHz + STEPS * 25 * kHz, 25 * kHz),
        count=LINKS,
        separation=350 * kHz,
        guards={"2A-B": 100 * kHz, "A+B-C": 100 * kHz},
    )


def relocations(*, read: bool) -> sidon.Heuristic:
    """Return random relocations, with or without a look at the row."""

    def relocate(state: sidon.State, run: sidon.Run) -> None:
        for link in state.free:
            state.place(link, int(run.random.integers(STEPS)))
        links = run.random.integers(LINKS, size=DRAWN).tolist()
        steps = run.random.integers(STEPS, size=DRAWN).tolist()
        i = 0
        while run.tick():
            i = (i + 1) % DRAWN
            state.lift(links[i])
            if read:
                state.cost(links[i])
            state.place(links[i], steps[i])

    return relocate


def call_us(call: Callable[[], object], number: int = 100_000) -> float:
    """Return the least mean time of a call in microseconds, the empty call taken off."""
    least = min(timeit.repeat(call, number=number, repeat=7))
    empty = min(timeit.repeat(lambda: None, number=number, repeat=7))
    return (least - empty) / number * 1e6


def main() -> None:
    """Print the figures."""
    print(f"build: {sidon.versions()['build']}")
    for read in (False, True):
        rates = []
        for seed in range(3):
            result = sidon.solve(
                problem(),
                method=relocations(read=read),
                objective="min-interference",
                seed=seed,
                seconds=SECONDS,
            )
            rates.append(result.iterations / result.elapsed_s)
        name = "lift, read the row, place" if read else "lift and place"
        print(f"{name}: {max(rates):,.0f} moves/s in Python, best of {len(rates)} runs")
    state = sidon.State(problem())
    random = np.random.default_rng(1)
    for link in state.free:
        state.place(link, int(random.integers(STEPS)))
    print(f"state.cost(link), row as it was: {call_us(lambda: state.cost(0)):.3f} us")
    print(f"state.choice(link): {call_us(lambda: state.choice(0)):.3f} us")

    def run_ticks(_: sidon.State, run: sidon.Run) -> None:
        print(f"run.tick(): {call_us(run.tick):.3f} us")

    sidon.solve(problem(), method=run_ticks, seconds=600)
    row = state.cost(0)
    print(f"zero-copy: shares memory {np.shares_memory(row, state.cost(LINKS - 1))}", end=", ")
    print(f"owns data {row.flags.owndata}, writeable {row.flags.writeable}")


if __name__ == "__main__":
    main()
