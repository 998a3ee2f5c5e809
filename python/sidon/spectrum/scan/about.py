"""What a sweep does not say of itself: bandwidth, averaging, when, where and with which antenna."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, TypedDict

from sidon._arrays import Distance, FaultList, distance
from sidon.spectrum.scan.statistics import GAUSSIAN_NOISE_FACTOR, LOG_AVERAGE_DB

__all__ = ["About", "Facts", "facts"]

_LOG_SCATTER = 6 / math.pi**2
"""Variance of an exponential variable over that of its logarithm: 1 over pi squared by 6."""

Taken = dt.date | str | None


class About(TypedDict, total=False):
    """Options of every way to make a scan; see `Scan`."""

    resolution_bandwidth: Distance | None
    noise_factor: float
    averages: int
    averaged_in: str
    held: int
    taken: Taken
    name: str
    spot: str
    antenna: str


@dataclass(frozen=True)
class Facts:
    """The same, checked.

    Parameters
    ----------
    resolution_bandwidth_hz : int or None
        3 dB width of the resolution filter.
    noise_factor : float
        Its noise bandwidth over that width.
    averages, held : int
        What one level is made of.
    averaged_in : str
        ``"power"``, or ``"decibels"`` where the receiver averages logarithms.
    taken : date or datetime or None
        When.
    name, spot, antenna : str
        Notes.
    """

    resolution_bandwidth_hz: int | None = None
    noise_factor: float = GAUSSIAN_NOISE_FACTOR
    averages: int = 1
    averaged_in: str = "power"
    held: int = 1
    taken: dt.date | None = None
    name: str = ""
    spot: str = ""
    antenna: str = ""

    @property
    def noise_bandwidth_hz(self) -> float | None:
        """Noise bandwidth of the resolution filter in hertz; None where it is not known."""
        if self.resolution_bandwidth_hz is None:
            return None
        return self.resolution_bandwidth_hz * self.noise_factor

    @property
    def noise_offset_db(self) -> float:
        """What noise and what is like it reads low by, where decibels were averaged."""
        return -LOG_AVERAGE_DB if self._logarithmic else 0.0

    @property
    def independent(self) -> int:
        """Averages in power that scatter as much."""
        if not self._logarithmic:
            return self.averages
        return max(1, round(self.averages * _LOG_SCATTER))

    @property
    def _logarithmic(self) -> bool:
        return self.averaged_in == "decibels" and self.averages > 1

    def named(self, name: str) -> Facts:
        """Return the same with a name, unless it has one."""
        return self if self.name else replace(self, name=name)


def facts(about: Mapping[str, Any]) -> Facts:
    """Check the options.

    Parameters
    ----------
    about : mapping
        See `About`.

    Returns
    -------
    Facts
        The same.

    Raises
    ------
    TypeError
        An option is not known.
    InvalidProblemError
        A value is out of range; every fault is listed.
    """
    unknown = sorted(set(about) - set(About.__annotations__))
    if unknown:
        what = f"unknown option {unknown[0]!r}; options are {', '.join(About.__annotations__)}"
        raise TypeError(what)
    faults = FaultList()
    width: int | None = None
    if about.get("resolution_bandwidth") is not None:
        width = faults.take(1, distance, about["resolution_bandwidth"], "resolution_bandwidth")
        if not 0 < width <= 100_000_000:
            what, remedy = f"{width} Hz is no resolution bandwidth", "give 1 Hz to 100 MHz"
            faults.add("resolution_bandwidth", what, remedy)
    factor = about.get("noise_factor", GAUSSIAN_NOISE_FACTOR)
    if not isinstance(factor, int | float) or not 0.5 <= factor <= 3:
        remedy = "give noise bandwidth over 3 dB width: 1.0645 for a Gaussian filter, 1 for noise"
        faults.add("noise_factor", f"{factor!r} is not between 0.5 and 3", remedy)
    for key, meaning in (("averages", "averaged into"), ("held", "held by")):
        count = about.get(key, 1)
        if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= 1_000_000:
            remedy = f"give the number of readings {meaning} each level, 1 to 1,000,000"
            faults.add(key, f"{count!r} is no such number", remedy)
    averaged_in = about.get("averaged_in") or "power"
    if averaged_in not in ("power", "decibels"):
        remedy = "use 'power', or 'decibels' where the receiver averages its display"
        faults.add("averaged_in", f"{averaged_in!r} is neither power nor decibels", remedy)
    taken = faults.take(None, _moment, about.get("taken"), faults)
    faults.raise_if_any()
    return Facts(
        resolution_bandwidth_hz=width,
        noise_factor=float(factor),
        averages=about.get("averages", 1),
        averaged_in=averaged_in,
        held=about.get("held", 1),
        taken=taken,
        name=str(about.get("name", "")),
        spot=str(about.get("spot", "")),
        antenna=str(about.get("antenna", "")),
    )


def _moment(taken: Taken, faults: FaultList) -> dt.date | None:
    if taken is None or isinstance(taken, dt.date):
        return taken
    try:
        text = str(taken).strip()
        return dt.date.fromisoformat(text) if len(text) <= 10 else dt.datetime.fromisoformat(text)
    except ValueError:
        faults.add("taken", f"{taken!r} is no date", "write it as 2031-05-01 or 2031-05-01T18:00")
        return None
