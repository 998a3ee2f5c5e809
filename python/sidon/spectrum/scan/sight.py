"""One look at a scan under one rule: floor, threshold, what is occupied, computed once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sidon.spectrum.scan import floor as floors
from sidon.spectrum.scan import statistics, traces
from sidon.spectrum.scan.cells import cell_edges
from sidon.spectrum.scan.occupied import Occupied, false_alarm_db, intervals
from sidon.spectrum.scan.plausible import THERMAL_DBM_HZ
from sidon.spectrum.scan.read import Reading
from sidon.spectrum.scan.rule import Rule
from sidon.spectrum.scan.table import Numbers

__all__ = ["Sight", "look"]

_DEAF_DB = 30.0


@dataclass(frozen=True)
class Sight:
    """What one rule makes of a scan.

    Parameters
    ----------
    edges_hz : tuple of numpy.ndarray
        Cells of the points.
    max_hold_dbm, floor_dbm, threshold_dbm : numpy.ndarray
        Traces, as displayed: where decibels were averaged, noise is stronger than they say.
    above_db : float
        Distance of the threshold above the floor; NaN where it is absolute.
    held_bias_db : float
        How far max hold of noise alone lies above the floor, on average.
    share : numpy.ndarray
        How often each point was above the threshold, 0 to 1.
    occupied : tuple of Occupied
        Ascending.
    warnings : tuple of str
        Where the floor cannot be trusted.
    """

    edges_hz: tuple[np.ndarray, np.ndarray]
    max_hold_dbm: Numbers
    floor_dbm: Numbers
    threshold_dbm: Numbers
    above_db: float
    held_bias_db: float
    share: Numbers
    occupied: tuple[Occupied, ...]
    warnings: tuple[str, ...]


def look(reading: Reading, by: Rule) -> Sight:
    """Look at a scan under a rule. O(n log sweeps).

    Parameters
    ----------
    reading : Reading
        The scan.
    by : Rule
        The rule.

    Returns
    -------
    Sight
        What it makes of it.
    """
    facts, levels = reading.facts, reading.levels_dbm
    held_trace = traces.maximum(levels)
    sweeps = int(np.median(traces.counts(levels))) if len(levels) > 1 else 1
    held = facts.held * sweeps
    # The floor is read off the mean trace, which scatters least; a file that is max hold itself
    # has no mean, and the bias of its maxima is taken off.
    if facts.held > 1:
        trace, averages, of = held_trace, facts.independent, held
    else:
        trace, averages, of = traces.mean(levels), facts.independent * sweeps, 1
    floor = floors.across_frequency(
        reading.frequency_hz, trace, window_hz=by.window_hz, averages=averages, held=of
    )
    above = false_alarm_db(
        len(held_trace),
        false_hits=by.false_hits,
        above_db=by.above_db,
        averages=facts.independent,
        held=held,
    )
    threshold = floor.level_dbm + above
    if by.threshold_dbm is not None:
        threshold, above = np.full(len(held_trace), by.threshold_dbm), float("nan")
    edges = cell_edges(reading.frequency_hz, facts.resolution_bandwidth_hz)
    if len(levels) == 1:
        share = (held_trace > threshold).astype(np.float64)
    else:
        with np.errstate(invalid="ignore"):
            share = (levels > threshold).sum(axis=0) / traces.counts(levels)
    found = intervals(
        reading.frequency_hz,
        edges,
        held_trace,
        threshold,
        share,
        bridge_hz=by.bridge_hz,
        resolution_hz=facts.resolution_bandwidth_hz,
        name=facts.name,
    )
    return Sight(
        edges,
        held_trace,
        floor.level_dbm,
        threshold,
        above,
        statistics.mean_db(averages=facts.independent, held=held),
        share,
        tuple(found),
        (*floor.warnings, *_deaf(floor.level_dbm, facts.noise_bandwidth_hz)),
    )


def _deaf(floor_dbm: Numbers, noise_bandwidth_hz: float | None) -> list[str]:
    """Say when the floor is far above thermal noise: then it is no receiver's, or a deaf one's."""
    if noise_bandwidth_hz is None:
        return []
    above = float(np.median(floor_dbm)) - THERMAL_DBM_HZ - 10 * np.log10(noise_bandwidth_hz)
    if above <= _DEAF_DB:
        return []
    return [
        f"the floor is {above:.0f} dB above thermal noise: the receiver is deaf, or there is no "
        "quiet part; weak signals are not seen"
    ]
