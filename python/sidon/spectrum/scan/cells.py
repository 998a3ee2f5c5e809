"""The piece of spectrum each point of a scan stands for, where pieces are missing, and coverage."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidon.exceptions import InvalidProblemError
from sidon.spectrum.scan.plausible import frequency_faults
from sidon.units import mhz_text

__all__ = [
    "Coverage",
    "Span",
    "asked_hz",
    "cell_edges",
    "coverage",
    "covered_spans",
    "merged",
    "overlap_hz",
]

Hertz = NDArray[np.int64]
Span = tuple[int, int]

_NEAR = 5
"""Steps looked at on either side, to tell a gap from a change of resolution."""


@dataclass(frozen=True)
class Coverage:
    """Which parts of asked ranges a scan has heard.

    Parameters
    ----------
    covered : tuple of (int, int)
        In hertz, ascending.
    missing : tuple of (int, int)
        The rest: neither quiet nor free, but not known.
    """

    covered: tuple[Span, ...]
    missing: tuple[Span, ...]

    @property
    def share(self) -> float:
        """Covered part of all that was asked, 0 to 1."""
        heard, lost = _total(self.covered), _total(self.missing)
        return heard / (heard + lost) if heard + lost else 0.0

    @property
    def complete(self) -> bool:
        """Whether nothing is missing."""
        return not self.missing

    def __str__(self) -> str:
        if self.complete:
            return "the scan covers all of it"
        shown = ", ".join(f"{mhz_text(a)}-{mhz_text(b)}" for a, b in self.missing[:8])
        more = f" and {len(self.missing) - 8} more pieces" if len(self.missing) > 8 else ""
        return (
            f"the scan covers {100 * self.share:.1f} %; not covered, so not known to be quiet: "
            f"{shown} MHz{more}"
        )


def cell_edges(frequency_hz: Hertz, resolution_hz: int | None) -> tuple[Hertz, Hertz]:
    """Edges of the piece each point stands for: half-way to its neighbours, unless there is a gap.

    Parameters
    ----------
    frequency_hz : numpy.ndarray
        Ascending, each once.
    resolution_hz : int or None
        Resolution bandwidth; points that overlap by it leave no gap.

    Returns
    -------
    tuple of numpy.ndarray
        Lower and upper edges in hertz; beside a gap a point reaches half its other step.

    Notes
    -----
    A step is a gap when it is more than one and a half times what is usual on either side. A change
    of resolution is no gap, because its step is usual on one side.
    """
    n = len(frequency_hz)
    if n == 1:
        half = (resolution_hz or 0) // 2
        return frequency_hz - half, frequency_hz + half
    steps = np.diff(frequency_hz)
    gap = _gaps(steps)
    if resolution_hz is not None:
        gap &= steps > resolution_hz
    usual = np.where(gap, 0, steps)
    left = np.concatenate([[0], usual])
    right = np.concatenate([usual, [0]])
    alone = (left == 0) & (right == 0)
    typical = int(np.median(steps[~gap])) if not gap.all() else 0
    reach = max(typical, resolution_hz or 0)
    left = np.where(left == 0, np.where(alone, reach, right), left)
    right = np.where(right == 0, np.where(alone, reach, left), right)
    low = frequency_hz - left // 2
    # One edge between neighbours, so that no hertz is lost or counted twice.
    high = frequency_hz + (right + 1) // 2
    inner = np.flatnonzero(~gap)
    high[inner] = low[inner + 1]
    return low, high


def _gaps(steps: Hertz) -> NDArray[np.bool_]:
    if len(steps) < 2 or bool(steps.max() <= 1.5 * steps.min()):
        return np.zeros(len(steps), dtype=np.bool_)
    padded = np.pad(steps.astype(np.float64), _NEAR, constant_values=np.nan)
    # Only steps above a neighbour can be gaps; what is usual is found for these alone.
    before, after = np.append(steps[1:2], steps[:-1]), np.append(steps[1:], steps[-2:-1])
    odd = np.flatnonzero((steps > 1.2 * before) | (steps > 1.2 * after))
    gap = np.zeros(len(steps), dtype=np.bool_)
    if len(odd):
        window = np.arange(1, _NEAR + 1)
        left = _usual(padded[odd[:, None] + _NEAR - window])
        right = _usual(padded[odd[:, None] + _NEAR + window])
        gap[odd] = steps[odd] > 1.5 * np.maximum(left, right)
    return gap


def _usual(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Second largest of each row without its NaN, the largest of one, 0 of none.

    One more gap nearby is passed over so, and steps that alternate are no gaps.
    """
    ordered = np.sort(rows, axis=1)
    count = (~np.isnan(rows)).sum(axis=1)
    found = ordered[np.arange(len(rows)), np.maximum(count - 2, 0)]
    return np.asarray(np.nan_to_num(found))


def covered_spans(low: Hertz, high: Hertz) -> list[Span]:
    """Join the cells of a scan into spans."""
    breaks = np.flatnonzero(low[1:] > high[:-1])
    starts = np.concatenate([[0], breaks + 1])
    ends = np.concatenate([breaks, [len(low) - 1]])
    return list(zip(low[starts].tolist(), high[ends].tolist(), strict=True))


def asked_hz(ranges: Iterable[Span], place: str) -> list[Span]:
    """Take ranges that are asked for in hertz, and refuse those that must be in another unit.

    Parameters
    ----------
    ranges : iterable of (int, int)
        In hertz.
    place : str
        What they are called in errors.

    Returns
    -------
    list of (int, int)
        The same.

    Raises
    ------
    InvalidProblemError
        None of them reaches 100 kHz.
    """
    found = list(ranges)
    highest = max((high for _, high in found), default=None)
    if highest is not None:
        remedy = "give hertz: multiply by sidon.MHz if they are MHz"
        faults = frequency_faults(round(highest), place, remedy)
        if faults:
            raise InvalidProblemError(faults)
    return found


def coverage(spans: Sequence[Span], asked: Iterable[Span]) -> Coverage:
    """Say which parts of the asked ranges the spans cover.

    Parameters
    ----------
    spans : sequence of (int, int)
        What was heard, in hertz.
    asked : iterable of (int, int)
        What is of interest, in hertz.

    Returns
    -------
    Coverage
        Covered and missing parts.
    """
    heard = merged(spans)
    covered: list[Span] = []
    missing: list[Span] = []
    for low, high in merged(asked):
        at = low
        for a, b in heard:
            if b <= low or a >= high:
                continue
            if a > at:
                missing.append((at, a))
            covered.append((max(a, low), min(b, high)))
            at = min(b, high)
        if at < high:
            missing.append((at, high))
    return Coverage(tuple(covered), tuple(missing))


def merged(spans: Iterable[Span]) -> list[Span]:
    """Join spans that touch or overlap, ascending."""
    joined: list[Span] = []
    for low, high in sorted(spans):
        if joined and low <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(high, joined[-1][1]))
        else:
            joined.append((low, high))
    return joined


def overlap_hz(low: Hertz, high: Hertz, span: Span) -> Hertz:
    """Width of each cell that lies inside a span, in hertz."""
    width: Hertz = np.minimum(high, span[1]) - np.maximum(low, span[0])
    return np.maximum(width, 0)


def _total(spans: Iterable[Span]) -> int:
    return sum(high - low for low, high in spans)
