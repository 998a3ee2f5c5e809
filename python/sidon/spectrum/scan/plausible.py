"""Whether levels can be what they are said to be: wrong units, wrong columns, broken receivers."""

from __future__ import annotations

import math

import numpy as np

from sidon.exceptions import Fault
from sidon.spectrum.scan import traces
from sidon.spectrum.scan.table import Numbers

__all__ = ["THERMAL_DBM_HZ", "level_faults", "level_warnings"]

_MOST_DBM = 30.0
"""One watt into a receiver: beyond, it is no longer one."""
_LEAST_DBM = -250.0
_FLOOR_DBM = -20.0
"""Half of a scan is never above this."""
_HIGH_DBM = -50.0
_OVERLOAD_DBM = -10.0
THERMAL_DBM_HZ = -173.975
"""Thermal noise at 290 K in 1 Hz: Boltzmann's constant times temperature."""


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
