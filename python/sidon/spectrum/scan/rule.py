"""How a scan decides that something is there: floor, distance above it, false alarms, bridging."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypedDict

from sidon._arrays import Distance, FaultList, distance

__all__ = ["Rule", "Threshold", "rule"]


class Threshold(TypedDict, total=False):
    """Options of every way to ask what is occupied; see `Scan.occupied`."""

    above_db: float
    threshold_dbm: float | None
    false_hits: float
    bridge: Distance
    window: Distance


@dataclass(frozen=True)
class Rule:
    """The same, checked; distances in hertz."""

    above_db: float = 5.0
    threshold_dbm: float | None = None
    false_hits: float = 1.0
    bridge_hz: int = 100_000
    window_hz: int = 30_000_000


def rule(options: Mapping[str, Any]) -> Rule:
    """Check the options.

    Parameters
    ----------
    options : mapping
        See `Threshold`.

    Returns
    -------
    Rule
        The same.

    Raises
    ------
    TypeError
        An option is not known.
    InvalidProblemError
        A value is out of range; every fault is listed.
    """
    unknown = sorted(set(options) - set(Threshold.__annotations__))
    if unknown:
        what = f"unknown option {unknown[0]!r}; options are {', '.join(Threshold.__annotations__)}"
        raise TypeError(what)
    faults = FaultList()
    usual = Rule()

    def number(key: str, low: float, high: float, otherwise: float) -> float:
        value = options.get(key, otherwise)
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not low <= value <= high
        ):
            faults.add(key, f"{value!r} is no number from {low:g} to {high:g}", "give one")
            return otherwise
        return float(value)

    absolute = None
    if options.get("threshold_dbm") is not None:
        absolute = number("threshold_dbm", -250, 50, -100.0)
    bridge = faults.take(0, distance, options.get("bridge", usual.bridge_hz), "bridge")
    window = faults.take(1_000_000, distance, options.get("window", usual.window_hz), "window")
    if bridge < 0:
        faults.add("bridge", f"{bridge} Hz is negative", "give 0 or more")
    if window < 1_000_000:
        faults.add("window", f"{window} Hz is too narrow", "give 1 MHz or more, such as '30 MHz'")
    found = Rule(
        above_db=number("above_db", 0, 100, usual.above_db),
        threshold_dbm=absolute,
        false_hits=number("false_hits", 1e-9, 1e9, usual.false_hits),
        bridge_hz=bridge,
        window_hz=window,
    )
    faults.raise_if_any()
    return found
