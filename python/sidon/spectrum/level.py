"""From field strength to level, through walls, to the horizon."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Literal

__all__ = ["Building", "entry_loss_db", "field_of_dbm", "level_dbm", "radio_horizon_km"]

Building = Literal["traditional", "thermally-efficient"]

# Rec. ITU-R P.2109, median horizontal path r s t, then u v, w x, y z; f in GHz.
_ENTRY = {
    "traditional": (12.64, 3.72, 0.96, 9.6, 2.0, 9.1, -3.0, 4.5, -2.0),
    "thermally-efficient": (28.19, -3.00, 8.48, 13.5, 3.8, 27.8, -2.9, 9.4, -2.1),
}
_FIELD_TO_LEVEL = 77.21
"""E - P - 20 log f of an isotropic antenna: 10 log(480 pi^2 / c^2) in dBuV/m, dBm and MHz."""


def level_dbm(field_dbuv_m: float, frequency_mhz: float, *, gain_dbi: float = 0.0) -> float:
    """Return the level an antenna takes from a field.

    Parameters
    ----------
    field_dbuv_m, frequency_mhz : float
        The field and its frequency.
    gain_dbi : float, default 0
        Gain of the antenna over an isotropic one.

    Returns
    -------
    float
        dBm into a matched load.

    Examples
    --------
    >>> round(level_dbm(41, 615, gain_dbi=2.15), 1)
    -89.8
    """
    return field_dbuv_m - _FIELD_TO_LEVEL - 20 * math.log10(frequency_mhz) + gain_dbi


def field_of_dbm(level: float, frequency_mhz: float, *, gain_dbi: float = 0.0) -> float:
    """Return the field that gives a level; the inverse of `level_dbm`.

    Parameters
    ----------
    level, frequency_mhz : float
        dBm and MHz.
    gain_dbi : float, default 0
        Gain of the antenna over an isotropic one.

    Returns
    -------
    float
        dBuV/m.

    Examples
    --------
    >>> round(field_of_dbm(-84, 600), 1)
    48.8
    """
    return level + _FIELD_TO_LEVEL + 20 * math.log10(frequency_mhz) - gain_dbi


def entry_loss_db(
    frequency_mhz: float,
    *,
    percent: float = 50.0,
    building: Building = "traditional",
    elevation_degrees: float = 0.0,
) -> float:
    """Return the loss into a building by Rec. ITU-R P.2109.

    Parameters
    ----------
    frequency_mhz : float
        80 to 100,000.
    percent : float, default 50
        Share of places whose loss does not exceed it; a low share is the cautious choice.
    building : {"traditional", "thermally-efficient"}
        Kind of building.
    elevation_degrees : float, default 0
        Elevation of the path at the building.

    Returns
    -------
    float
        dB.

    Examples
    --------
    >>> round(entry_loss_db(600), 2)
    14.04
    """
    r, s, t, u, v, w, x, y, z = _ENTRY[building]
    log_f = math.log10(frequency_mhz / 1000)
    median = r + s * log_f + t * log_f**2 + 0.212 * abs(elevation_degrees)
    deviate = NormalDist().inv_cdf(percent / 100)
    a = deviate * (u + v * log_f) + median
    b = deviate * (y + z * log_f) + w + x * log_f
    return 10 * math.log10(10 ** (a / 10) + 10 ** (b / 10) + 10**-0.3)


def radio_horizon_km(height_m: float, other_m: float) -> float:
    """Return the distance of the radio horizon over a smooth earth of 4/3 radius.

    Parameters
    ----------
    height_m, other_m : float
        Heights of both antennas.

    Returns
    -------
    float
        4.12 times the sum of the roots, in kilometres.

    Examples
    --------
    >>> round(radio_horizon_km(300, 10), 1)
    84.4
    """
    return 4.12 * (math.sqrt(height_m) + math.sqrt(other_m))
