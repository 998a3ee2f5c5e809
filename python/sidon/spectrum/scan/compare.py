"""Scans beside tables: what the air holds that a list of channels does not, and the reverse."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from sidon._columns import Columns, frozen
from sidon.spectrum.scan.cells import Span, coverage, merged
from sidon.spectrum.scan.occupied import Occupied

__all__ = ["compared"]

_FILLED = 0.5
_WHOLE = 0.999


def compared(
    occupied: Sequence[Occupied],
    heard: Sequence[Span],
    channels: Mapping[str, Span],
    listed: Iterable[str],
) -> Columns:
    """Set what was seen beside what is listed. O(channels + intervals).

    Parameters
    ----------
    occupied : sequence of Occupied
        What was seen.
    heard : sequence of (int, int)
        What was listened to.
    channels : mapping of str to (int, int)
        Edges of every channel, in hertz.
    listed : iterable of str
        Channels that a table calls occupied.

    Returns
    -------
    Columns
        ``channel``, ``low_hz``, ``high_hz``, ``listed``, ``heard`` and ``filled`` (shares from 0
        to 1), ``peak_dbm`` and ``finding`` in words.
    """
    known = set(listed)
    rows = []
    for name, span in channels.items():
        # A neighbour's skirt and the cells at the edge are no sign of a channel of its own.
        inset = min(100_000, (span[1] - span[0]) // 20)
        inner = span[0] + inset, span[1] - inset
        cover = coverage(heard, [inner])
        within = [row for row in occupied if row.low_hz < inner[1] and row.high_hz > inner[0]]
        parts = merged((max(row.low_hz, inner[0]), min(row.high_hz, inner[1])) for row in within)
        filled = sum(b - a for a, b in parts) / (inner[1] - inner[0])
        peaks = [row.peak_dbm for row in within if span[0] <= row.peak_hz < span[1]]
        peak = max(peaks, default=float("nan"))
        finding = _finding(
            listed=name in known, filled=filled, any_=bool(within), heard=cover.share
        )
        rows.append((name, *span, name in known, cover.share, filled, peak, finding))
    kinds = {
        "channel": np.str_,
        "low_hz": np.int64,
        "high_hz": np.int64,
        "listed": np.bool_,
        "heard": np.float64,
        "filled": np.float64,
        "peak_dbm": np.float64,
        "finding": np.str_,
    }
    table = zip(*rows, strict=True) if rows else [()] * len(kinds)
    return Columns(
        {
            name: frozen(np.array(cells, dtype=kind))
            for (name, kind), cells in zip(kinds.items(), table, strict=True)
        }
    )


def _finding(*, listed: bool, filled: float, any_: bool, heard: float) -> str:
    if heard == 0:
        return "listed, not covered by the scan" if listed else "not covered by the scan"
    whole = heard >= _WHOLE
    if filled >= _FILLED * heard:
        words = "listed and seen" if listed else "seen, not listed"
    elif any_:
        words = "listed, only narrow signals seen" if listed else "narrow signals, not listed"
    else:
        words = "listed, not seen" if listed else ("quiet" if whole else "nothing seen")
    return words if whole else f"{words}; only {100 * heard:.0f} % covered"
