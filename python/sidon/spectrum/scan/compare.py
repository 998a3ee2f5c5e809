"""Scans beside tables: what the air holds that a list of channels does not, and the reverse."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from sidon._columns import Columns, frozen
from sidon.spectrum.scan.cells import Span, coverage, merged
from sidon.spectrum.scan.occupied import Occupied

__all__ = ["compared", "filled"]

_FILLED = 0.5
_LEAST_FILLED = 0.2
"""Of a channel that is only partly heard: more than a carrier fills, 1.2 MHz of 6 MHz."""
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
        inner = _inner(span)
        cover = coverage(heard, [inner])
        within = [row for row in occupied if row.low_hz < inner[1] and row.high_hz > inner[0]]
        share = _filled(((row.low_hz, row.high_hz) for row in within), inner)
        peaks = [row.peak_dbm for row in within if span[0] <= row.peak_hz < span[1]]
        peak = max(peaks, default=float("nan"))
        finding = _finding(listed=name in known, filled=share, any_=bool(within), heard=cover.share)
        rows.append((name, *span, name in known, cover.share, share, peak, finding))
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


def filled(occupied: Iterable[Span], heard: Sequence[Span], channel: Span) -> bool:
    """Tell whether what stands above the threshold fills most of what was heard of a channel.

    Parameters
    ----------
    occupied : iterable of (int, int)
        What stands above the threshold, in hertz.
    heard : sequence of (int, int)
        What was listened to.
    channel : (int, int)
        Edges of the channel.

    Returns
    -------
    bool
        A narrow carrier does not fill a channel, nor the part of it that was heard.
    """
    inner = _inner(channel)
    share, cover = _filled(occupied, inner), coverage(heard, [inner]).share
    return share >= max(_FILLED * cover, _LEAST_FILLED)


def _inner(channel: Span) -> Span:
    """Take off the rims: a neighbour's skirt is no sign of a channel of its own."""
    inset = min(100_000, (channel[1] - channel[0]) // 20)
    return channel[0] + inset, channel[1] - inset


def _filled(occupied: Iterable[Span], inner: Span) -> float:
    within = [(low, high) for low, high in occupied if low < inner[1] and high > inner[0]]
    parts = merged((max(low, inner[0]), min(high, inner[1])) for low, high in within)
    return sum(b - a for a, b in parts) / (inner[1] - inner[0])


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
