"""From rows to sweeps: which readings belong together, put on one ascending grid of frequencies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidon.exceptions import TooLargeError
from sidon.spectrum.scan.table import Numbers

__all__ = ["Grid", "one_grid"]

Hertz = NDArray[np.int64]

_MOST_CELLS = 200_000_000
_SHORTEST_RUN = 4


@dataclass(frozen=True)
class Grid:
    """Sweeps on one grid.

    Parameters
    ----------
    frequency_hz : numpy.ndarray
        Ascending, each once.
    levels : numpy.ndarray
        One row per sweep; NaN where a sweep has no reading.
    names : tuple of str
        Names of the sweeps, where a column gives them.
    warnings : tuple of str
        What was done to the rows.
    """

    frequency_hz: Hertz
    levels: Numbers
    names: tuple[str, ...]
    warnings: tuple[str, ...]


def one_grid(hertz: Hertz, levels: Numbers, sweep: Sequence[object] | None) -> Grid:
    """Put rows on one grid. O(n log n).

    Parameters
    ----------
    hertz : numpy.ndarray
        Frequency of each row.
    levels : numpy.ndarray
        Levels, one row per sweep if several stand side by side.
    sweep : sequence, optional
        To which sweep each row belongs; found out when not given.

    Returns
    -------
    Grid
        One row per sweep.

    Raises
    ------
    TooLargeError
        The sweeps share so few frequencies that no table of them fits the memory.
    """
    steps = np.diff(hertz)
    if sweep is None and bool(np.all(steps > 0)):
        return Grid(hertz, levels, (), ())
    warnings: list[str] = []
    names: tuple[str, ...] = ()
    if sweep is not None:
        which, names = _labels(sweep)
    elif len(steps) and bool(np.all(steps < 0)):
        warnings.append("the frequencies fall; they are put in ascending order")
        return Grid(hertz[::-1].copy(), levels[:, ::-1].copy(), (), tuple(warnings))
    else:
        which, said = _restarts(hertz, steps)
        warnings += said
    count = int(which.max()) + 1
    unique, column = np.unique(hertz, return_inverse=True)
    side_by_side = len(levels)
    if count * side_by_side * len(unique) > _MOST_CELLS:
        what = f"a table of {count * side_by_side:,} sweeps and {len(unique):,} frequencies"
        why = f"more than {_MOST_CELLS:,} levels, because the sweeps share few frequencies"
        remedy = "sweep the same points each time, or read the sweeps one by one and merge them"
        raise TooLargeError(what, why, remedy)
    table = np.full((count, side_by_side, len(unique)), np.nan)
    cell = which * len(unique) + column
    twice = int((np.bincount(cell) > 1).sum())
    for place, row in enumerate(levels):
        filled = np.full(count * len(unique), np.nan)
        if twice:
            np.fmax.at(filled, cell, row)
        else:
            filled[cell] = row
        table[:, place] = filled.reshape(count, len(unique))
    if twice:
        noun = "frequency stands" if twice == 1 else "frequencies stand"
        warnings.append(f"{twice:,} {noun} more than once in a sweep; the highest level is kept")
    return Grid(unique, table.reshape(-1, len(unique)), names, tuple(warnings))


def _labels(sweep: Sequence[object]) -> tuple[NDArray[np.int64], tuple[str, ...]]:
    """Give the sweeps numbers in the order in which they first occur."""
    texts = np.asarray(
        [f"{s:.15g}" if isinstance(s, float) else str(s) for s in sweep], dtype=np.str_
    )
    unique, first, which = np.unique(texts, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty(len(unique), dtype=np.int64)
    rank[order] = np.arange(len(unique))
    return rank[which], tuple(unique[order].tolist())


def _restarts(hertz: Hertz, steps: NDArray[np.int64]) -> tuple[NDArray[np.int64], list[str]]:
    """Part rows into sweeps where the frequency starts again, or by how often it has occurred."""
    starts = np.concatenate([[0], np.flatnonzero(steps < 0) + 1, [len(hertz)]])
    runs = len(starts) - 1
    if len(hertz) >= _SHORTEST_RUN * runs and not np.any(steps == 0):
        which = np.zeros(len(hertz), dtype=np.int64)
        current = 0
        covered: list[tuple[int, int]] = []
        for begin, end in zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True):
            low, high = int(hertz[begin]), int(hertz[end - 1])
            if any(low <= b and a <= high for a, b in covered):
                current, covered = current + 1, []
            covered.append((low, high))
            which[begin:end] = current
        said = []
        if runs > current + 1:
            said.append("the frequencies are not in order; they are sorted")
        return which, said
    # The n-th occurrence of every frequency makes the n-th sweep, if all occur as often.
    order = np.argsort(hertz, kind="stable")
    ordered = hertz[order]
    new = np.concatenate([[True], np.diff(ordered) > 0])
    counts = np.diff(np.concatenate([np.flatnonzero(new), [len(hertz)]]))
    said = [] if np.all(steps >= 0) else ["the frequencies are not in order; they are sorted"]
    if counts.min() == counts.max():
        place = np.arange(len(hertz)) - np.repeat(np.flatnonzero(new), counts)
        which = np.empty(len(hertz), dtype=np.int64)
        which[order] = place
        return which, said
    return np.zeros(len(hertz), dtype=np.int64), said
