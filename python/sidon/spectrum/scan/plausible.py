"""Whether levels can be what they are said to be: wrong units, wrong columns, broken receivers."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
from numpy.typing import NDArray

from sidon.exceptions import Fault
from sidon.spectrum.scan import traces
from sidon.spectrum.scan.table import Numbers

__all__ = [
    "THERMAL_DBM_HZ",
    "date_warnings",
    "frequency_faults",
    "level_faults",
    "level_warnings",
    "outliers",
]

_MOST_DBM = 30.0
"""One watt into a receiver: beyond, it is no longer one."""
_LEAST_DBM = -250.0
_FLOOR_DBM = -20.0
"""Half of a scan is never above this."""
_HIGH_DBM = -50.0
_OVERLOAD_DBM = -10.0
THERMAL_DBM_HZ = -173.975
"""Thermal noise at 290 K in 1 Hz: Boltzmann's constant times temperature."""

_LEAST_HZ = 100_000
"""Below this no radio microphone works, and no receiver of theirs scans: it is another unit."""
_FEW = 0.02
"""So few of all levels are broken lines; more are another unit or column."""
_SHOWN = 5
_FRESH = dt.timedelta(days=30)
_ZONES = dt.timedelta(days=1)
"""A date may be a day ahead of the clock here: it is that of the place."""


def frequency_faults(highest_hz: int, place: str, remedy: str) -> list[Fault]:
    """Find frequencies that were given in another unit.

    Parameters
    ----------
    highest_hz : int
        The highest of them, as read.
    place : str
        What they are called.
    remedy : str
        How the unit is said.

    Returns
    -------
    list of Fault
        At most one.
    """
    if highest_hz >= _LEAST_HZ:
        return []
    what = f"no frequency is above {highest_hz:,} Hz, which is below all radio microphones"
    return [Fault(place, what, remedy)]


def outliers(levels: Numbers, lines: NDArray[np.int64] | None, *, source: str) -> list[Fault]:
    """Find single levels that no receiver gives, among others that may be sound.

    Parameters
    ----------
    levels : numpy.ndarray
        One row per sweep, one column per row of the table; NaN where there is none.
    lines : numpy.ndarray or None
        The line of each row of the table.
    source : str
        What was read.

    Returns
    -------
    list of Fault
        One for each line, and one for the rest of many.
    """
    bad = (levels > _MOST_DBM) | (levels < _LEAST_DBM)
    count = int(bad.sum())
    if not count or count > max(1, _FEW * levels.size):
        return []
    rows = np.flatnonzero(bad.any(axis=0))
    found = []
    for row in rows[:_SHOWN].tolist():
        value = float(levels[bad[:, row], row][0])
        place = f"{source}, row {row + 1}" if lines is None else f"{source}, line {lines[row]}"
        what = f"{value:.1f} dBm is no level of a scan"
        found.append(Fault(place, what, "correct the level, or leave out the line"))
    if len(rows) > _SHOWN:
        what = f"{len(rows) - _SHOWN:,} more levels are none of a scan"
        found.append(Fault(source, what, "correct them, or leave out their lines"))
    return found


def date_warnings(taken: dt.date | None) -> list[str]:
    """Say when a scan is old, or said to be of the future, on the day it is read.

    Parameters
    ----------
    taken : date or datetime or None
        When it was taken.

    Returns
    -------
    list of str
        At most one sentence.
    """
    if taken is None:
        return []
    day = taken.date() if isinstance(taken, dt.datetime) else taken
    today = _today()
    if day > today + _ZONES:
        return [f"it is said to be taken on {day}, which is still to come: check the date"]
    if day < today - _FRESH:
        return [
            f"it was taken on {day}, more than {_FRESH.days} days before it was read: the air has "
            "changed since, so take it again"
        ]
    return []


def _today() -> dt.date:
    return dt.datetime.now(tz=dt.UTC).date()


def level_faults(levels: Numbers, *, stated: str | None, source: str) -> list[Fault]:
    """Find levels that no scan has.

    Parameters
    ----------
    levels : numpy.ndarray
        What was read as dBm, NaN where there is none.
    stated : str or None
        The unit that was stated, if any.
    source : str
        What was read.

    Returns
    -------
    list of Fault
        At most one.
    """
    high, low = float(np.nanmax(levels)), float(np.nanmin(levels))
    middle = float(np.nanmedian(levels)) if np.isnan(levels).any() else float(np.median(levels))
    if high <= _MOST_DBM and low >= _LEAST_DBM and middle <= _FLOOR_DBM:
        return []
    what = (
        f"levels from {low:.1f} to {high:.1f} dBm, half of them above {middle:.1f} dBm, are no scan"
    )
    if stated != "dBuV" and -30 <= middle <= 120 and low >= -60:
        remedy = "if they are dBuV, say level_unit='dBuV'; if it is another column, name level="
    else:
        remedy = "check the unit of level and the column"
    return [Fault(f"level ({source})", what, remedy)]


def level_warnings(
    levels: Numbers, noise_bandwidth_hz: float | None, *, per_hertz: bool
) -> list[str]:
    """Say what is odd about levels that may still be a scan.

    Parameters
    ----------
    levels : numpy.ndarray
        dBm.
    noise_bandwidth_hz : float or None
        Of the resolution filter.
    per_hertz : bool
        Whether they were given per hertz.

    Returns
    -------
    list of str
        Sentences.
    """
    warnings = []
    trace = traces.maximum(levels)
    middle = float(np.median(trace))
    if middle > _HIGH_DBM:
        warnings.append(
            f"half of the levels are above {middle:.0f} dBm, which is much for a scan: check the "
            "unit, the antenna and an amplifier on the way"
        )
    high = float(trace.max())
    if high > _OVERLOAD_DBM:
        warnings.append(
            f"a level of {high:.0f} dBm may have overloaded the receiver: what it shows beside "
            "that may be its own products"
        )
    if noise_bandwidth_hz is not None:
        thermal = THERMAL_DBM_HZ + 10 * math.log10(noise_bandwidth_hz)
        if middle < thermal - 3:
            what = "the unit per hertz" if per_hertz else "the unit (dBm/Hz?)"
            warnings.append(
                f"half of the levels are below {middle:.0f} dBm, less than the thermal noise of "
                f"{thermal:.0f} dBm in this bandwidth: check {what} and the resolution bandwidth"
            )
    return warnings
