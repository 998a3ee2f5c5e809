"""Units of a scan: frequencies to exact hertz, levels to dBm, and what a value must have meant."""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import NDArray

from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan.plausible import frequency_faults
from sidon.spectrum.scan.table import Numbers

__all__ = [
    "DBUV_TO_DBM",
    "frequency_factor",
    "frequency_unit_in",
    "guess_frequency_unit",
    "level_unit",
    "level_unit_in",
    "to_dbm",
    "to_hertz",
]

_FREQUENCY = {"hz": 1, "khz": 1_000, "mhz": 1_000_000, "ghz": 1_000_000_000}
_LEVEL = {"dbm": "dBm", "dbuv": "dBuV", "dbm/hz": "dBm/Hz"}

DBUV_TO_DBM = -90 - 10 * math.log10(50)
"""A level in dB above 1 microvolt over 50 ohm, plus this, is in dBm."""

_MOST_HZ = 100e9


def frequency_factor(unit: str, place: str) -> int:
    """Hertz per unit.

    Parameters
    ----------
    unit : str
        Hz, kHz, MHz or GHz, in any case.
    place : str
        What it is called in errors.

    Returns
    -------
    int
        The factor.

    Raises
    ------
    InvalidProblemError
        It is none of them.
    """
    factor = _FREQUENCY.get(str(unit).strip().lower())
    if factor is None:
        what = f"{unit!r} is no unit of frequency"
        raise InvalidProblemError([Fault(place, what, "use Hz, kHz, MHz or GHz")])
    return factor


def level_unit(unit: str, place: str) -> str:
    """Read a unit of level.

    Parameters
    ----------
    unit : str
        dBm, dBuV (over 50 ohm) or dBm/Hz, in any case.
    place : str
        What it is called in errors.

    Returns
    -------
    str
        The unit as it is written.

    Raises
    ------
    InvalidProblemError
        It is none of them.
    """
    plain = re.sub(r"\s", "", str(unit)).replace("µ", "u").replace("μ", "u").lower()
    found = _LEVEL.get(plain)
    if found is None:
        what = f"{unit!r} is no unit of level that sidon reads"
        remedy = "use dBm, dBuV (over 50 ohm) or dBm/Hz"
        if plain.endswith("/m"):
            remedy = "a field strength needs the antenna factor: subtract it first, then use dBuV"
        raise InvalidProblemError([Fault(place, what, remedy)])
    return found


def frequency_unit_in(name: str) -> str | None:
    """Find the unit of frequency that a header names, such as MHz in "Frequency (MHz)"."""
    match = re.search(r"(?<![A-Za-z])([kmg]?hz)(?![A-Za-z])", name.replace("_", " "), re.IGNORECASE)
    return match[1] if match else None


def level_unit_in(name: str) -> str | None:
    """Find the unit of level that a header names, such as dBm in "Level [dBm]"."""
    match = re.search(r"db(?:m\s*/\s*hz|m|[uµμ]v(?:\s*/\s*m)?)(?![a-z])", name, re.IGNORECASE)
    return re.sub(r"\s", "", match[0]) if match else None


def guess_frequency_unit(column: Numbers) -> str:
    """Say which unit frequencies without one are in, by their size: radio at 1 MHz to 10 GHz.

    Parameters
    ----------
    column : numpy.ndarray
        Numbers, of which at least one is no NaN.

    Returns
    -------
    str
        The unit.
    """
    largest = float(np.nanmax(column))
    for unit, least in (("Hz", 1e7), ("kHz", 1e4), ("MHz", 10.0)):
        if largest >= least:
            return unit
    return "GHz"


def to_hertz(column: Numbers, factor: int, place: str) -> tuple[NDArray[np.int64], float]:
    """Turn frequencies into whole hertz.

    Parameters
    ----------
    column : numpy.ndarray
        Frequencies without NaN.
    factor : int
        Hertz per unit.
    place : str
        What the column is called in errors.

    Returns
    -------
    hertz : numpy.ndarray
        int64. A whole number of hertz below 100 GHz, written with decimals in any unit, is met
        exactly: the nearest float lies within 1e-5 Hz of it.
    off : float
        The largest distance in hertz that had to be rounded away.

    Raises
    ------
    InvalidProblemError
        Some frequency is not between 0 and 100 GHz, or none is above 100 kHz.
    """
    hertz = column if factor == 1 else column * float(factor)
    low, high = float(hertz.min()), float(hertz.max())
    if low <= 0 or high > _MOST_HZ:
        bad = low if low <= 0 else high
        what = f"{bad:.6g} Hz is not between 0 and 100 GHz"
        raise InvalidProblemError([Fault(place, what, "name its unit, or another column")])
    remedy = "say frequency_unit='MHz' if they are MHz; else check the unit and the column"
    faults = frequency_faults(round(high), place, remedy)
    if faults:
        raise InvalidProblemError(faults)
    whole = np.rint(hertz)
    return whole.astype(np.int64), float(np.abs(hertz - whole).max())


def to_dbm(levels: Numbers, unit: str, noise_bandwidth_hz: float | None, place: str) -> Numbers:
    """Turn levels into dBm.

    Parameters
    ----------
    levels : numpy.ndarray
        Levels in `unit`.
    unit : str
        dBm, dBuV or dBm/Hz.
    noise_bandwidth_hz : float, optional
        Of the resolution filter, for levels per hertz.
    place : str
        What to call it in errors.

    Returns
    -------
    numpy.ndarray
        dBm in the resolution bandwidth.

    Raises
    ------
    InvalidProblemError
        Levels per hertz without a resolution bandwidth.
    """
    if unit == "dBuV":
        return levels + DBUV_TO_DBM
    if unit == "dBm/Hz":
        if noise_bandwidth_hz is None:
            what = "levels per hertz without the bandwidth they were measured in"
            remedy = "give resolution_bandwidth; of a sweep made by a transform, its bin width"
            raise InvalidProblemError([Fault(place, what, remedy)])
        return levels + 10 * math.log10(noise_bandwidth_hz)
    return levels
