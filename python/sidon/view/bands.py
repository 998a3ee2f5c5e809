"""Which pieces of the spectrum a picture shows: where carriers stand, in rows of like width."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import chain, pairwise

from sidon.plan.document import PlanDocument
from sidon.plan.recount import carriers

__all__ = ["left_out_text", "rows"]

Span = tuple[int, int]

_GAP_HZ = 24_000_000
"""A longer stretch without a carrier, or without anything available, is left out: four TV channels
of 6 MHz."""

_BESIDE_HZ = 4_000_000
"""What is shown beside the last carrier before a stretch that is left out."""

_ROW_HZ = 75_000_000
_MOST_ROWS = 4
_SLACK = 0.2
"""How far from its share a row may end, in shares, for the sake of a good place."""


def rows(document: PlanDocument) -> list[list[Span]]:
    """Cut the spectrum into rows, each of one or more pieces with no carrier between them.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of list of (int, int)
        Edges in hertz, ascending; no carrier lies on an edge. Long stretches without a carrier are
        left out; without any carrier, all that is available is shown.
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
    if marks:
        merged = list(chain.from_iterable(_used(low, high, marks) for low, high in merged))
    # Room for the marks of carriers at the edges.
    return [(max(0, low - pad), high + pad) for low, high in merged for pad in [_pad(low, high)]]


def _used(low: int, high: int, marks: Sequence[int]) -> list[Span]:
    """Leave out of a piece every long stretch in which no carrier stands."""
    inside = [hz for hz in marks if low <= hz <= high]
    if not inside:
        return []
    start = low if inside[0] - low <= _GAP_HZ else inside[0] - _BESIDE_HZ
    end = high if high - inside[-1] <= _GAP_HZ else inside[-1] + _BESIDE_HZ
    edges = [start]
    for a, b in pairwise(inside):
        if b - a > _GAP_HZ:
            edges += [a + _BESIDE_HZ, b - _BESIDE_HZ]
    edges.append(end)
    return list(zip(edges[::2], edges[1::2], strict=True))


def left_out_text(document: PlanDocument, bands: Sequence[Sequence[Span]]) -> str:
    """Say what is available but not shown, because no carrier stands there.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    bands : sequence of sequence of (int, int)
        What `rows` shows of it.

    Returns
    -------
    str
        Such as "not shown, without a carrier: 530-601, 633-694 MHz"; "" when all is shown.
    """
    used = {row.profile for row in document.assignments}
    spans = sorted(span for name in used for span in document.availability.get(name, []))
    shown = [piece for band in bands for piece in band]
    hidden: list[Span] = []
    for low, high in spans:
        start = low
        for a, b in [*shown, (high, high)]:
            if start < min(a, high):
                hidden.append((start, min(a, high)))
            start = max(start, b)
    merged: list[Span] = []
    for low, high in sorted(hidden):
        # Beyond the kilohertz nobody looks for a frequency in a picture.
        if high - low < _BESIDE_HZ // 4:
            continue
        if merged and low - merged[-1][1] <= _GAP_HZ and not _between(merged[-1][1], low, shown):
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    if not merged:
        return ""
    texts = [f"{low / 1e6:.0f}\u2013{high / 1e6:.0f}" for low, high in merged[:6]]
    more = ", \u2026" if len(merged) > 6 else ""
    return f"not shown, without a carrier: {', '.join(texts)}{more} MHz"


def _between(low: int, high: int, shown: Sequence[Span]) -> bool:
    return any(a < high and b > low for a, b in shown)


def _pad(low: int, high: int) -> int:
    return max(400_000, (high - low) // 100)


def _cut(low: int, high: int, wanted: float, slack: float, marks: Sequence[int]) -> int:
    """Choose the middle of the widest stretch without a carrier near the wanted edge."""
    first, last = max(low, int(wanted - slack)), min(high, int(wanted + slack))
    near = [first, *(hz for hz in marks if first < hz < last), last]
    gaps = [(b - a, (a + b) // 2) for a, b in pairwise(near)]
    return max(gaps, key=lambda gap: (gap[0], -abs(gap[1] - wanted)))[1]
