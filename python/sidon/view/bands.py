"""Which pieces of the spectrum a picture shows: where carriers may stand, in rows of like width."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from sidon.plan.document import PlanDocument
from sidon.plan.recount import carriers

__all__ = ["rows"]

Span = tuple[int, int]

_GAP_HZ = 24_000_000
"""A longer stretch without anything available is left out: four TV channels of 6 MHz."""

_ROW_HZ = 75_000_000
_MOST_ROWS = 4
_SLACK = 0.2
"""How far from its share a row may end, in shares, for the sake of a good place."""


def rows(document: PlanDocument) -> list[list[Span]]:
    """Cut the spectrum into rows, each of one or more pieces with nothing available between them.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of list of (int, int)
        Edges in hertz, ascending; no carrier lies on an edge.
    """
    marks = sorted(row.frequency_hz for row in carriers(document))
    pieces = _pieces(document, marks)
    total = sum(high - low for low, high in pieces)
    count = min(_MOST_ROWS, math.ceil(total / _ROW_HZ))
    found: list[list[Span]] = [[]]
    room = share = total / count
    for low, high in pieces:
        start = low
        # The last row takes what is left.
        while len(found) < count and high - start > room + _SLACK * share:
            end = _cut(start, high, start + room, _SLACK * share, marks)
            if end > start:
                found[-1].append((start, end))
            start, room = end, share
            found.append([])
        found[-1].append((start, high))
        room -= high - start
        if len(found) < count and room < _SLACK * share and high < pieces[-1][1]:
            found.append([])
            room = share
    return [row for row in found if row]


def _pieces(document: PlanDocument, marks: Sequence[int]) -> list[Span]:
    used = {row.profile for row in document.assignments} or set(document.availability)
    spans = [span for name in used for span in document.availability.get(name, [])]
    spans += [(hz, hz) for hz in marks]
    if not spans:
        spans = list(document.spectrum.ranges_hz) if document.spectrum else []
    merged: list[Span] = []
    for low, high in sorted(spans or [(0, 1_000_000)]):
        if merged and low - merged[-1][1] <= _GAP_HZ:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    # Room for the marks of carriers at the edges.
    return [(max(0, low - pad), high + pad) for low, high in merged for pad in [_pad(low, high)]]


def _pad(low: int, high: int) -> int:
    return max(400_000, (high - low) // 100)


def _cut(low: int, high: int, wanted: float, slack: float, marks: Sequence[int]) -> int:
    """Choose the middle of the widest stretch without a carrier near the wanted edge."""
    first, last = max(low, int(wanted - slack)), min(high, int(wanted + slack))
    near = [first, *(hz for hz in marks if first < hz < last), last]
    gaps = [(b - a, (a + b) // 2) for a, b in pairwise(near)]
    return max(gaps, key=lambda gap: (gap[0], -abs(gap[1] - wanted)))[1]
