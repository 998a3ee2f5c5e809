"""The noise floor: mean noise power per point, from what is quiet across frequency or in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidon.spectrum.scan import statistics, traces
from sidon.spectrum.scan.table import Numbers

__all__ = ["Floor", "across_frequency", "across_sweeps"]

Hertz = NDArray[np.int64]

_QUIET = 0.25
"""The quantile across frequency: signals may fill three quarters of a window."""

_SLOPE_DB_HZ = 0.1e-6
"""How steeply the floor of a receiver may rise: a tenth of a decibel per megahertz."""

_SAID_DB = 3.0

_LEAST_POINTS = 24
_ROUNDS = 3


@dataclass(frozen=True)
class Floor:
    """A floor and how it was found.

    Parameters
    ----------
    level_dbm : numpy.ndarray
        Mean noise power per point in the resolution bandwidth.
    warnings : tuple of str
        Where it cannot be trusted.
    """

    level_dbm: Numbers
    warnings: tuple[str, ...]


def across_frequency(
    frequency_hz: Hertz,
    trace_dbm: Numbers,
    *,
    window_hz: int,
    averages: int,
    held: int,
) -> Floor:
    """Follow the floor across frequency by a low quantile in windows. O(n).

    Parameters
    ----------
    frequency_hz : numpy.ndarray
        Ascending.
    trace_dbm : numpy.ndarray
        A mean trace, or one max hold.
    window_hz : int
        Width of the window, in hertz.
    averages, held : int
        What a level of the trace is made of; see `statistics.quantile_db`.

    Returns
    -------
    Floor
        Interpolated between the middles of half-overlapping windows.

    Notes
    -----
    The quantile of all points lies too high in a window with many signals. So points well above
    the first estimate are left out and the quantile is taken again. Where a window is so full
    that its floor stands above that of its neighbours by more than a tenth of a decibel per
    megahertz, it is held to that: what fills it is a signal, not the receiver.
    """
    bias = statistics.quantile_db(_QUIET, averages=averages, held=held)
    above = max(5.0, statistics.threshold_db(1e-3, averages=averages, held=held))
    bins = _windows(frequency_hz, window_hz)
    middles = np.array([(frequency_hz[a] + frequency_hz[b - 1]) / 2 for a, b in bins])
    levels = np.array([_low(trace_dbm[a:b], bias, above) for a, b in bins])
    warnings: tuple[str, ...] = ()
    if len(trace_dbm) < _LEAST_POINTS:
        warnings = (f"the floor is estimated from {len(trace_dbm)} points only; take it as a hint",)
    # The largest curve under all levels that is nowhere steeper.
    rise = middles * _SLOPE_DB_HZ
    held_to = np.minimum(
        np.minimum.accumulate(levels - rise) + rise,
        np.minimum.accumulate((levels + rise)[::-1])[::-1] - rise,
    )
    full = levels > held_to + _SAID_DB
    if full.any():
        a, b = bins[int(np.flatnonzero(full)[0])]
        low, high = frequency_hz[a] / 1e6, frequency_hz[b - 1] / 1e6
        text = (
            f"{int(full.sum())} of {len(full)} windows, such as {low:.1f}-{high:.1f} MHz, hold no "
            "quiet part; their floor is taken from their neighbours"
        )
        warnings = (*warnings, text)
    return Floor(np.interp(frequency_hz, middles, held_to), warnings)


def across_sweeps(levels: Numbers, *, share: float, averages: int, held: int) -> Floor:
    """Estimate the floor of every frequency from its lowest readings in time. O(n log sweeps).

    Parameters
    ----------
    levels : numpy.ndarray
        Sweeps by points.
    share : float
        The share of the readings that counts as quiet, such as 0.2.
    averages, held : int
        What one level is made of.

    Returns
    -------
    Floor
        Corrected for what the discarded readings hold. A signal that never pauses stands in it.
    """
    # A share of few readings is that many whole readings.
    typical = int(np.median(traces.counts(levels)))
    kept = max(1, round(share * typical)) / typical
    bias = statistics.lowest_mean_db(kept, averages=averages, held=held)
    warnings: tuple[str, ...] = ()
    if typical < 10:
        warnings = (
            f"the floor of each frequency is estimated from {typical} "
            f"reading{'' if typical == 1 else 's'}; ten or more tell noise from signals",
        )
    return Floor(traces.lowest(levels, share) - bias, warnings)


def _windows(frequency_hz: Hertz, window_hz: int) -> list[tuple[int, int]]:
    """Index ranges of half-overlapping windows that hold points."""
    first, last = int(frequency_hz[0]), int(frequency_hz[-1])
    if last - first <= window_hz:
        return [(0, len(frequency_hz))]
    steps = -(-2 * (last - first) // window_hz) - 1
    starts = first + (last - first - window_hz) * np.arange(steps + 1) // max(1, steps)
    a = np.searchsorted(frequency_hz, starts, side="left")
    b = np.searchsorted(frequency_hz, starts + window_hz, side="right")
    pairs = zip(a.tolist(), b.tolist(), strict=True)
    return [(low, high) for low, high in pairs if high - low >= 2] or [(0, len(frequency_hz))]


def _low(levels: Numbers, bias: float, above: float) -> float:
    kept = levels
    for _ in range(_ROUNDS):
        rank = int(_QUIET * (len(kept) - 1))
        found = float(np.partition(kept, rank)[rank]) - bias
        quiet = kept[kept < found + above]
        if len(quiet) == len(kept) or len(quiet) < 2:
            break
        kept = quiet
    return found
