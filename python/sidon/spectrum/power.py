"""Radiated powers in any usual unit, and units that would make an implausible one sensible."""

from __future__ import annotations

import math
import re

__all__ = ["DIPOLE_DB", "UNITS", "likely_units", "to_kw", "unit_of"]

DIPOLE_DB = 2.15
"""Gain of a half-wave dipole over an isotropic radiator: EIRP = ERP + 2.15 dB."""

UNITS = ("W", "kW", "dBm", "dBW", "dBk")
"""What powers may be given in; dBk is decibels over one kilowatt."""

_COLUMN = re.compile(r"(erp|eirp)[ _]*[\[(]?(w|kw|dbm|dbw|dbk)[\])]?")
_OVER_KW = {"dBm": 60.0, "dBW": 30.0, "dBk": 0.0}


def unit_of(column: str) -> tuple[str, str] | None:
    """Read kind and unit from the name of a column.

    Parameters
    ----------
    column : str
        Such as "erp_kw" or "EIRP (dBW)".

    Returns
    -------
    (str, str) or None
        "ERP" or "EIRP", and the unit; None when the name does not say.

    Examples
    --------
    >>> unit_of("erp_kw"), unit_of("EIRP (dBW)"), unit_of("power")
    (('ERP', 'kW'), ('EIRP', 'dBW'), None)
    """
    found = _COLUMN.fullmatch(column.strip().lower())
    if found is None:
        return None
    unit = next(unit for unit in UNITS if unit.lower() == found[2])
    return found[1].upper(), unit


def to_kw(value: float, unit: str, *, kind: str = "ERP") -> float:
    """Convert a radiated power to kilowatts ERP.

    Parameters
    ----------
    value : float
        The power.
    unit : str
        One of `UNITS`.
    kind : {"ERP", "EIRP"}, default "ERP"
        Relative to a half-wave dipole, or to an isotropic radiator.

    Returns
    -------
    float
        Kilowatts ERP; infinite where the value is far out of range.

    Examples
    --------
    >>> to_kw(15, "kW"), to_kw(30, "dBW"), round(to_kw(1.6406, "kW", kind="EIRP"), 3)
    (15, 1.0, 1.0)
    """
    if unit == "kW":
        kw = value
    elif unit == "W":
        kw = value / 1000
    else:
        try:
            kw = math.pow(10, (value - _OVER_KW[unit]) / 10)
        except OverflowError:
            return math.inf
    return kw * math.pow(10, -DIPOLE_DB / 10) if kind == "EIRP" else kw


def likely_units(value: float, kind: str, low_kw: float, high_kw: float) -> list[str]:
    """List the units in which a power would be plausible.

    Parameters
    ----------
    value : float
        The number as written.
    kind : {"ERP", "EIRP"}
        What it is said to be.
    low_kw, high_kw : float
        Plausible kilowatts ERP.

    Returns
    -------
    list of str
        Units of `UNITS`.

    Examples
    --------
    >>> likely_units(1_000_000, "ERP", 0.1, 2000)
    ['W']
    """
    return [unit for unit in UNITS if low_kw <= to_kw(value, unit, kind=kind) <= high_kw]
