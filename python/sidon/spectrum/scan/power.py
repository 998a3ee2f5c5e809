"""Power over a piece of spectrum, and the bandwidth correction for signals that are like noise."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sidon._arrays import Distance, distance
from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan import traces
from sidon.spectrum.scan.cells import Span, overlap_hz
from sidon.spectrum.scan.table import Numbers
from sidon.units import mhz_text

__all__ = ["ChannelPower", "Verdict", "bandwidth_correction_db", "judge", "power_dbm"]

Hertz = NDArray[np.int64]
Verdict = Literal["below", "above", "cannot tell"]

_NEAR_DB = 3.0
"""Power that the floor alone makes up to half of says nothing certain of a signal."""


@dataclass(frozen=True)
class ChannelPower:
    """Power over a channel against a limit.

    Parameters
    ----------
    low_hz, high_hz : int
        The channel.
    power_dbm : float
        Total power, the scan's own noise included; NaN where nothing was heard.
    floor_dbm : float
        What noise alone would add up to in the same trace, over the same part.
    covered : float
        Heard part of the channel, 0 to 1.
    limit_dbm : float or None
        The limit.
    verdict : str or None
        ``"below"``, ``"above"`` or ``"cannot tell"``; None without a limit.
    reason : str
        Why, in words.
    name : str
        Name of the channel.
    """

    low_hz: int
    high_hz: int
    power_dbm: float
    floor_dbm: float
    covered: float
    limit_dbm: float | None
    verdict: Verdict | None
    reason: str
    name: str = ""

    def __str__(self) -> str:
        name = f"channel {self.name}, " if self.name else ""
        head = f"{name}{mhz_text(self.low_hz)}-{mhz_text(self.high_hz)} MHz"
        if math.isnan(self.power_dbm):
            return f"{head}: not covered"
        verdict = f" ({self.verdict}: {self.reason})" if self.verdict else ""
        return f"{head}: {self.power_dbm:.1f} dBm{verdict}"


def bandwidth_correction_db(from_hz: Distance, to_hz: Distance) -> float:
    """How much more of a noise-like signal a wider bandwidth takes in.

    Parameters
    ----------
    from_hz, to_hz : int or str
        Noise bandwidths, in hertz or as a text such as ``"200 kHz"``.

    Returns
    -------
    float
        Decibels to add. Not for a carrier narrower than the bandwidth it is measured in: all of
        it is inside already.

    Raises
    ------
    InvalidProblemError
        A bandwidth is not above zero.

    Examples
    --------
    >>> import sidon
    >>> round(sidon.bandwidth_correction_db("10 kHz", "200 kHz"), 2)
    13.01
    """
    a, b = distance(from_hz, "from_hz"), distance(to_hz, "to_hz")
    faults = [
        Fault(place, f"{value} Hz is not above zero", "give a bandwidth")
        for place, value in (("from_hz", a), ("to_hz", b))
        if value <= 0
    ]
    if faults:
        raise InvalidProblemError(faults)
    return 10 * math.log10(b / a)


def power_dbm(
    trace_dbm: Numbers, edges_hz: tuple[Hertz, Hertz], span: Span, noise_bandwidth_hz: float
) -> tuple[float, float]:
    """Add up the power between two edges. O(points inside).

    Parameters
    ----------
    trace_dbm : numpy.ndarray
        Levels in dBm.
    edges_hz : tuple of numpy.ndarray
        Cells of the points.
    span : tuple of int
        The edges in hertz.
    noise_bandwidth_hz : float
        Of the resolution filter.

    Returns
    -------
    power_dbm : float
        Sum of level times cell over noise bandwidth; NaN where nothing was heard.
    covered : float
        Heard part of the span, 0 to 1.
    """
    low, high = edges_hz
    first = int(np.searchsorted(high, span[0], side="right"))
    last = int(np.searchsorted(low, span[1], side="left"))
    inside = slice(first, last)
    width = overlap_hz(low[inside], high[inside], span)
    heard = int(width.sum())
    if heard == 0:
        return math.nan, 0.0
    power = float((traces.milliwatts(trace_dbm[inside]) * width).sum()) / noise_bandwidth_hz
    return 10 * math.log10(power), heard / (span[1] - span[0])


def judge(
    span: Span, power: float, floor: float, covered: float, limit: float | None, *, name: str
) -> ChannelPower:
    """Compare power over a channel with a limit, and say when the scan cannot tell.

    Parameters
    ----------
    span : tuple of int
        The channel in hertz.
    power, floor : float
        Power and the scan's own floor over it, in dBm.
    covered : float
        Heard part of it, 0 to 1.
    limit : float, optional
        In dBm.
    name : str
        Name of the channel.

    Returns
    -------
    ChannelPower
        With a verdict and its reason.
    """
    verdict: Verdict | None
    if limit is None:
        verdict, reason = None, ""
    elif math.isnan(power):
        verdict, reason = "cannot tell", "the scan does not cover it"
    elif power >= limit and floor > power - _NEAR_DB:
        verdict = "cannot tell"
        reason = (
            f"the scan's own floor adds up to {floor:.1f} dBm, too high for the limit of "
            f"{limit:g} dBm: use a narrower resolution bandwidth or a more sensitive receiver"
        )
    elif power >= limit:
        verdict = "above"
        reason = f"{power - limit:.1f} dB over the limit of {limit:g} dBm"
    elif covered < 0.999:
        verdict = "cannot tell"
        reason = f"the scan covers only {100 * covered:.1f} % of it"
    else:
        verdict = "below"
        reason = f"{limit - power:.1f} dB under the limit of {limit:g} dBm"
    return ChannelPower(*span, power, floor, covered, limit, verdict, reason, name)
