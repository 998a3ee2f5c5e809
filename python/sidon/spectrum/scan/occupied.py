"""What a scan sees: intervals above a threshold over the floor, and how often they are there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidon.spectrum.scan import statistics
from sidon.spectrum.scan.table import Numbers
from sidon.units import mhz_text

__all__ = ["Occupied", "false_alarm_db", "intervals"]

Hertz = NDArray[np.int64]


@dataclass(frozen=True)
class Occupied:
    """A piece of spectrum in which a scan sees something.

    Parameters
    ----------
    low_hz, high_hz : int
        Its edges, by the cells of the points above the threshold.
    peak_hz : int
        Where it is strongest.
    peak_dbm : float
        How strong, in the resolution bandwidth.
    share : float
        How often its busiest point was above the threshold, 0 to 1.
    wide : bool
        Whether it is wider than two resolution bandwidths, and so can be taken for a signal whose
        level grows with the bandwidth. False where the resolution bandwidth is not known.
    seen_by : tuple of str
        Names of the scans that see it.
    """

    low_hz: int
    high_hz: int
    peak_hz: int
    peak_dbm: float
    share: float
    wide: bool
    seen_by: tuple[str, ...] = ()

    @property
    def width_hz(self) -> int:
        """Width in hertz."""
        return self.high_hz - self.low_hz

    def __str__(self) -> str:
        low, high = mhz_text(self.low_hz), mhz_text(self.high_hz)
        return f"{low}-{high} MHz, up to {self.peak_dbm:.1f} dBm at {mhz_text(self.peak_hz)} MHz"


def false_alarm_db(
    readings: int, *, false_hits: float, above_db: float, averages: int, held: int
) -> float:
    """Distance of the threshold above the floor.

    Parameters
    ----------
    readings : int
        Levels that are compared with it.
    false_hits : float
        How many of them noise alone may lift above it, on average.
    above_db : float
        The least distance, whatever the number of readings.
    averages, held : int
        What one level is made of; see `statistics.quantile_db`.

    Returns
    -------
    float
        The larger of the two, in dB above the mean noise power.

    Examples
    --------
    >>> round(false_alarm_db(5_000, false_hits=1, above_db=5, averages=1, held=1), 2)
    9.3
    """
    probability = min(0.5, false_hits / max(1, readings))
    return max(above_db, statistics.threshold_db(probability, averages=averages, held=held))


def intervals(
    frequency_hz: Hertz,
    edges_hz: tuple[Hertz, Hertz],
    trace_dbm: Numbers,
    threshold_dbm: Numbers,
    share: Numbers,
    *,
    bridge_hz: int,
    resolution_hz: int | None,
    name: str,
) -> list[Occupied]:
    """Join points above the threshold into intervals. O(n).

    Parameters
    ----------
    frequency_hz, trace_dbm, threshold_dbm, share : numpy.ndarray
        Points, their levels and thresholds, and how often each was above.
    edges_hz : tuple of numpy.ndarray
        Cells of the points.
    bridge_hz : int
        Intervals with less than this between them are one.
    resolution_hz : int or None
        Resolution bandwidth.
    name : str
        The scan's own.

    Returns
    -------
    list of Occupied
        Ascending.
    """
    hit = np.flatnonzero(trace_dbm > threshold_dbm)
    if not len(hit):
        return []
    low, high = edges_hz
    breaks = np.flatnonzero(low[hit[1:]] - high[hit[:-1]] >= max(1, bridge_hz))
    starts = np.concatenate([[0], breaks + 1])
    ends = np.concatenate([breaks, [len(hit) - 1]])
    found = []
    for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
        points = hit[a : b + 1]
        peak = int(points[np.argmax(trace_dbm[points])])
        edges = int(low[points[0]]), int(high[points[-1]])
        found.append(
            Occupied(
                *edges,
                peak_hz=int(frequency_hz[peak]),
                peak_dbm=float(trace_dbm[peak]),
                share=float(share[points].max()),
                wide=resolution_hz is not None and edges[1] - edges[0] > 2 * resolution_hz,
                seen_by=(name,) if name else (),
            )
        )
    return found
