"""Problems and a heuristic that several tests run."""

from __future__ import annotations

import numpy as np

import sidon
from sidon import MHz, kHz


def crowded(count: int = 40) -> sidon.Problem:
    """Ask for more carriers than fit."""
    return sidon.Problem.simple(
        range(518 * MHz, 534 * MHz, 25 * kHz),
        count=count,
        separation=350 * kHz,
        guards={"2A-B": 50 * kHz, "A+B-C": 50 * kHz},
    )


def ruler(count: int = 4, length: int = 7) -> sidon.Problem:
    return sidon.Problem.simple(
        range(length), count=count, separation=1, guards={"2A-B": 1, "A+B-C": 1}
    )


def relocate(state: sidon.State, run: sidon.Run) -> None:
    """Try random relocations, and keep those that do not make it worse."""
    links = len(state)
    for link in range(links):
        state.place(link, int(run.random.integers(len(state.candidates(link)))))
    run.offer(state)
    while run.tick():
        link = int(run.random.integers(links))
        before = state.total
        former = state.lift(link)
        row = state.cost(link)
        state.place(link, int(run.random.choice(np.flatnonzero(row == row.min()))))
        if state.total > before:
            state.lift(link)
            state.place(link, former)
        run.offer(state)
