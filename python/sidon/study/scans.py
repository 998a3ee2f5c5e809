"""What the scans of a study mean for its plan: exclusions, costs of candidates, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sidon.spectrum.scan.cells import coverage, merged
from sidon.spectrum.scan.planning import MOST_DB, QUIET_DB
from sidon.spectrum.scan.text import CAUTIONS
from sidon.study.scan_schema import ScanUse, Use
from sidon.study.scan_tv import say_unlisted
from sidon.study.schema import Availability, Exclusion, Profile

if TYPE_CHECKING:
    from sidon.spectrum import PlaceReport

__all__ = ["NOT_PREFERRED", "prefers_quiet", "quiet_costs", "scan_cautions", "tuned", "with_scans"]


NOT_PREFERRED = MOST_DB + 1
"""What a frequency outside the preferred ranges costs: more than any noise inside."""


def prefers_quiet(availability: Availability) -> bool:
    """Tell whether some scan is used to prefer quiet air."""
    return bool(_used(availability, "prefer"))


def with_scans(
    availability: Availability | None, place: PlaceReport | None = None
) -> Availability | None:
    """Add what scans found in use to the exclusions.

    Parameters
    ----------
    availability : Availability or None
        As written.
    place : PlaceReport, optional
        The channels of the region, if one is named.

    Returns
    -------
    Availability or None
        With the exclusions; a TV channel that is not listed, and that a scan finds filled, is
        excluded whole and with its guard, and said among the cautions of that scan.
    """
    if availability is None or not availability.scans:
        return availability
    scans, channels = say_unlisted(availability, place)
    availability = availability.model_copy(update={"scans": scans})
    found = [
        # The edges are hertz already.
        Exclusion.model_construct(range=(row.low_hz, row.high_hz), reason=row.reason)
        for scan in _used(availability, "exclude")
        for row in scan.heard.exclusions
    ]
    found += channels
    return availability.model_copy(update={"exclusions": [*availability.exclusions, *found]})


def quiet_costs(
    availability: Availability, candidates_hz: Sequence[int], bandwidth_hz: int
) -> list[int] | None:
    """Say how dear each candidate is, so that the search prefers quiet air. O(candidates * width).

    Parameters
    ----------
    availability : Availability
        With its scans.
    candidates_hz : sequence of int
        Frequencies, ascending.
    bandwidth_hz : int
        Width around each that a receiver takes in.

    Returns
    -------
    list of int or None
        Decibels above the floor, the worst of all scans; most where none has heard it. None where
        no scan is used to prefer.
    """
    scans = _used(availability, "prefer")
    if not scans:
        return None
    where = np.asarray(candidates_hz, dtype=np.int64)
    worst = np.full(len(where), np.nan)
    for scan in scans:
        worst = np.fmax(worst, _excess(scan, where, bandwidth_hz))
    costs = np.ceil(np.clip(worst - QUIET_DB, 0, MOST_DB))
    costs[np.isnan(worst)] = MOST_DB
    found: list[int] = costs.astype(np.int64).tolist()
    return found


def _excess(scan: ScanUse, where: np.ndarray, bandwidth_hz: int) -> np.ndarray:
    """Mean excess of the cells inside the width around each candidate, in dB; NaN if not heard."""
    heard = scan.heard
    cells = np.array([np.nan if db is None else db for db in heard.excess_db], dtype=np.float64)
    # One cell of silence on either side stands for all that lies beyond.
    ratio = np.concatenate([[np.nan], 10 ** (cells / 10), [np.nan]])
    half = bandwidth_hz // 2
    first = (where - half - heard.first_hz) // heard.step_hz
    last = np.maximum(first, (where + half - 1 - heard.first_hz) // heard.step_hz)
    total = np.zeros(len(where))
    count = last - first + 1
    for offset in range(int(count.max(initial=0))):
        at = np.clip(first + offset, -1, len(cells)) + 1
        total += np.where(offset < count, ratio[at], 0)
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(total / count))


def tuned(ranges: Sequence[tuple[int, int]], profiles: Sequence[Profile]) -> list[tuple[int, int]]:
    """Cut ranges down to what some profile can tune.

    Parameters
    ----------
    ranges : sequence of (int, int)
        What is available, in hertz.
    profiles : sequence of Profile
        What is to be tuned; without any, all ranges stay.

    Returns
    -------
    list of (int, int)
        Ascending and disjoint; a profile reaches half its bandwidth beyond its tuning ranges.
    """
    if not profiles:
        return list(ranges)
    half = {profile.name: -(-profile.bandwidth // 2) for profile in profiles}
    reach = [(a - half[p.name], b + half[p.name]) for p in profiles for a, b in p.ranges]
    pieces = [(max(low, a), min(high, b)) for low, high in ranges for a, b in reach]
    return merged(piece for piece in pieces if piece[0] < piece[1])


def scan_cautions(availability: Availability, profiles: Sequence[Profile] = ()) -> list[str]:
    """List what a plan must say about the scans it leans on.

    Parameters
    ----------
    availability : Availability
        With its scans.
    profiles : sequence of Profile
        What is planned, so that nothing is asked of a scan that no profile can tune.

    Returns
    -------
    list of str
        Sentences; none without scans.
    """
    scans = availability.scans
    if not scans:
        return []
    found = [f"Scan {_called(scan)}: {text}." for scan in scans for text in scan.heard.cautions]
    asked = tuned(availability.ranges, profiles)
    heard = coverage([span for scan in scans for span in scan.heard.heard_hz], asked)
    if not heard.complete:
        found.append(f"Scans beside the available ranges: {heard}.")
    return [*found, *CAUTIONS]


def _called(scan: ScanUse) -> str:
    return f"{scan.heard.name} of {scan.taken:%Y-%m-%d}" if scan.taken else scan.heard.name


def _used(availability: Availability, use: Use) -> list[ScanUse]:
    return [scan for scan in availability.scans if use in scan.use]
