"""Field strength of a TV transmitter over distance: Longley-Rice area mode, and free space."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist
from typing import Annotated, Any, Literal

from itmlogic.lrprop import lrprop
from itmlogic.preparatory_subroutines.qlra import qlra
from itmlogic.preparatory_subroutines.qlrps import qlrps
from itmlogic.statistics.avar import avar
from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Propagation", "contour_km", "effective_height_m", "field_dbuv_m", "free_space_dbuv_m"]

_FREE_SPACE_1KW_1KM = 106.92
"""Field of 1 kW over a half-wave dipole at 1 km in free space, dBuV/m."""

_MOST_KM = 1000.0
_NEAREST_KM = 1.0
"""The model holds from 1 km on; nearer, free space is taken."""

_GROUND = {"permittivity": 15.0, "conductivity": 0.005}  # average ground
_REFRACTIVITY = 301.0  # surface refractivity, 4/3 earth
_CONTINENTAL_TEMPERATE = 5
_BROADCAST = 3  # time, location and situation vary independently


class Propagation(BaseModel):
    """How fields are predicted.

    Parameters
    ----------
    model : {"longley-rice", "free-space"}
        Longley-Rice in area mode as the library itmlogic computes it (no terrain data, only its
        irregularity), or free space: the strongest a field can be, far too strong beyond the
        horizon.
    terrain_m : float
        Terrain irregularity, the interdecile range of heights in metres: 30 plains, 90 hills, 200
        mountains. The default of 200 m is no claim about the place: with it, the model's contours
        come out 10 to 30 % longer than those of the FCC curves and no shorter, with 90 m 20 to 50 %
        longer. See the tests for the figures.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    model: Literal["longley-rice", "free-space"] = "longley-rice"
    terrain_m: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] = 200.0

    @property
    def words(self) -> str:
        """What it is, in words."""
        if self.model == "free-space":
            return "free space, the cautious extreme"
        return f"Longley-Rice area mode (itmlogic), terrain irregularity {self.terrain_m:g} m"


def free_space_dbuv_m(distance_km: float, *, erp_kw: float = 1.0) -> float:
    """Return the field in free space.

    Parameters
    ----------
    distance_km : float
        Above zero.
    erp_kw : float, default 1
        Effective radiated power over a half-wave dipole.

    Returns
    -------
    float
        106.92 + 10 log ERP - 20 log d, in dBuV/m.

    Examples
    --------
    >>> round(free_space_dbuv_m(10, erp_kw=100), 2)
    106.92
    """
    return _FREE_SPACE_1KW_1KM + 10 * math.log10(erp_kw) - 20 * math.log10(distance_km)


def effective_height_m(height_m: float, above: str) -> float:
    """Return the height that goes into the model.

    Parameters
    ----------
    height_m : float
        Height of the antenna in metres.
    above : {"average terrain", "ground"}
        What it is counted from.

    Returns
    -------
    float
        30 m at least above average terrain, as with the FCC curves, 10 m above ground; 3000 m at
        most.
    """
    least = 30.0 if above == "average terrain" else 10.0
    return min(max(height_m, least), 3000.0)


def field_dbuv_m(
    distance_km: float,
    *,
    frequency_mhz: float,
    height_m: float,
    erp_kw: float = 1.0,
    receiver_height_m: float = 10.0,
    time_percent: float = 50.0,
    propagation: Propagation | None = None,
) -> float:
    """Predict the field of a transmitter at half of the locations.

    Parameters
    ----------
    distance_km : float
        From the transmitter; below 1 km free space is taken.
    frequency_mhz : float
        20 to 20,000.
    height_m : float
        Effective height of the antenna, 1 to 3000.
    erp_kw : float, default 1
        Effective radiated power over a half-wave dipole.
    receiver_height_m : float, default 10
        Above ground.
    time_percent : float, default 50
        Share of the time the field is exceeded.
    propagation : Propagation, optional
        Longley-Rice when not given.

    Returns
    -------
    float
        dBuV/m; never above free space. An estimate: the median of many places, not this one.

    Examples
    --------
    >>> round(field_dbuv_m(50, frequency_mhz=569, height_m=300, erp_kw=100))
    77
    """
    distance = max(distance_km, 1e-3)
    free = free_space_dbuv_m(distance, erp_kw=erp_kw)
    how = propagation or Propagation()
    if how.model == "free-space" or distance < _NEAREST_KM:
        return free
    loss = _loss_db(
        distance, frequency_mhz, height_m, receiver_height_m, how.terrain_m, time_percent
    )
    return free - max(loss, 0.0)


def contour_km(
    threshold_dbuv_m: float,
    *,
    frequency_mhz: float,
    height_m: float,
    erp_kw: float = 1.0,
    receiver_height_m: float = 10.0,
    time_percent: float = 50.0,
    propagation: Propagation | None = None,
) -> float:
    """Find the distance at which the field has fallen to a threshold.

    Parameters
    ----------
    threshold_dbuv_m : float
        The field at the contour.
    frequency_mhz, height_m, erp_kw, receiver_height_m, time_percent, propagation
        As for `field_dbuv_m`.

    Returns
    -------
    float
        Kilometres, to 0.01 dB; 1000 at most. About ten evaluations of the model.

    Examples
    --------
    >>> round(contour_km(41, frequency_mhz=569, height_m=300, erp_kw=100, time_percent=90))
    97
    """
    needed = threshold_dbuv_m - 10 * math.log10(erp_kw)
    in_free_space = math.pow(10, min((_FREE_SPACE_1KW_1KM - needed) / 20, 9))
    how = propagation or Propagation()
    if how.model == "free-space" or in_free_space <= _NEAREST_KM:
        return min(in_free_space, _MOST_KM)
    far = min(in_free_space, _MOST_KM)
    # Neighbouring digits of the threshold make no difference worth a second search.
    return _contour_km(
        round(needed, 3),
        frequency_mhz,
        height_m,
        receiver_height_m,
        how.terrain_m,
        time_percent,
        far,
    )


@lru_cache(maxsize=100_000)
def _contour_km(
    needed: float,
    frequency_mhz: float,
    height_m: float,
    receiver_m: float,
    terrain_m: float,
    time_percent: float,
    far_km: float,
) -> float:
    """Regula falsi (Illinois) on the logarithm of the distance; the field falls with distance."""

    def excess(log_km: float) -> float:
        km = math.pow(10, log_km)
        loss = _loss_db(km, frequency_mhz, height_m, receiver_m, terrain_m, time_percent)
        return free_space_dbuv_m(km) - max(loss, 0.0) - needed

    low, high = math.log10(_NEAREST_KM), math.log10(far_km)
    above, below = excess(low), excess(high)
    if above <= 0:
        return _NEAREST_KM
    if below >= 0:
        return far_km
    side, at = 0, high
    for _ in range(60):
        at = (low * below - high * above) / (below - above)
        found = excess(at)
        if abs(found) < 0.01:
            break
        if found > 0:
            low, above = at, found
            below = below / 2 if side > 0 else below
            side = 1
        else:
            high, below = at, found
            above = above / 2 if side < 0 else above
            side = -1
    return math.pow(10, at)


def _loss_db(
    distance_km: float,
    frequency_mhz: float,
    height_m: float,
    receiver_m: float,
    terrain_m: float,
    time_percent: float,
) -> float:
    """Loss over free space."""
    # A copy, so that no two threads share one.
    state = dict(_terminals(frequency_mhz, height_m, receiver_m, terrain_m))
    # What depends on distance is worked out anew: within the horizon the library does so only
    # where it has not been before.
    state["wlos"] = 0
    state["lvar"] = 1
    state = lrprop(distance_km * 1000, state)
    exceeded = NormalDist().inv_cdf(1 - time_percent / 100)
    loss, _ = avar(exceeded, 0.0, 0.0, state)
    return float(loss)


@lru_cache(maxsize=20_000)
def _terminals(
    frequency_mhz: float, height_m: float, receiver_m: float, terrain_m: float
) -> dict[str, Any]:
    """Set up all that does not depend on distance, with random siting of both antennas."""
    wave, curvature, refractivity, ground = qlrps(
        frequency_mhz,
        0,
        _REFRACTIVITY,
        0,  # horizontal
        _GROUND["permittivity"],
        _GROUND["conductivity"],
    )
    state: dict[str, Any] = {
        "wn": wave,
        "gme": curvature,
        "ens": refractivity,
        "zgnd": ground,
        "dh": terrain_m,
        "hg": [height_m, receiver_m],
        "kwx": 0,
        "lvar": 5,
        "klimx": _CONTINENTAL_TEMPERATE,
        "mdvarx": _BROADCAST,
    }
    state = lrprop(100e3, qlra([0, 0], state))
    avar(0.0, 0.0, 0.0, state)
    return state
