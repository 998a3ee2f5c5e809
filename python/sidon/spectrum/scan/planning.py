"""What scans mean for a plan: exclusions, costs per frequency, coverage of what is asked."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidon.spectrum.scan import traces
from sidon.spectrum.scan.about import Facts
from sidon.spectrum.scan.occupied import Occupied
from sidon.spectrum.scan.sight import Sight
from sidon.spectrum.scan.table import Numbers
from sidon.units import mhz_text

__all__ = [
    "CLEAR_HZ",
    "MOST_DB",
    "QUIET_DB",
    "ScanExclusion",
    "costs_of",
    "excess_db",
    "exclusions_of",
    "exclusions_text",
]

Hertz = NDArray[np.int64]

MOST_DB = 40
"""A candidate so far above the floor is as dear as one that was not heard."""

QUIET_DB = 3.0
"""So much above the floor is the scatter of noise."""

CLEAR_HZ = 250_000
"""What a study keeps clear on either side of the middle of a carrier, unless told otherwise.

With half a bandwidth of 200 kHz on top, that is the 350 kHz that are usual between two carriers of
analogue equipment (common practice).
"""

_NAME = 30
_WHOLE = 0.999


@dataclass(frozen=True)
class ScanExclusion:
    """A range that a scan found in use.

    Parameters
    ----------
    low_hz, high_hz : int
        Its edges.
    reason : str
        What was seen, where and when; at most eighty characters.
    taken : date or None
        When the scan was taken.
    """

    low_hz: int
    high_hz: int
    reason: str
    taken: dt.date | None

    def as_row(self) -> dict[str, object]:
        """Write it as a row of ``availability.exclusions`` of a study.

        Returns
        -------
        dict
            ``range`` and ``reason``.
        """
        edges = [f"{mhz_text(self.low_hz)} MHz", f"{mhz_text(self.high_hz)} MHz"]
        return {"range": edges, "reason": self.reason}


def exclusions_of(
    occupied: Sequence[Occupied], facts: Facts, *, widen_hz: int, clear_hz: int = 0
) -> list[ScanExclusion]:
    """Turn what a scan sees into ranges to keep clear of.

    Parameters
    ----------
    occupied : sequence of Occupied
        What it sees.
    facts : Facts
        Whose scan, and when.
    widen_hz : int
        Kept clear on either side.
    clear_hz : int
        Kept clear on either side of the middle, at least: what is wider is not affected.

    Returns
    -------
    list of ScanExclusion
        Ascending; ranges that meet by widening are one, under the stronger one's reason.
    """
    found: list[tuple[int, int, Occupied]] = []
    for seen in occupied:
        row = seen
        middle = (row.low_hz + row.high_hz) // 2
        low = max(1, min(row.low_hz - widen_hz, middle - clear_hz))
        high = max(row.high_hz + widen_hz, middle + clear_hz)
        # What is narrow may reach further down than what is wide and stands below it.
        while found and low <= found[-1][1]:
            a, b, stronger = found.pop()
            low, high = min(a, low), max(b, high)
            row = row if row.peak_dbm > stronger.peak_dbm else stronger
        found.append((low, high, row))
    return [ScanExclusion(low, high, _reason(row, facts), facts.taken) for low, high, row in found]


def exclusions_text(rows: Sequence[ScanExclusion]) -> str:
    """Write exclusions as TOML, to be put into a study.

    Parameters
    ----------
    rows : sequence of ScanExclusion
        What to keep clear of.

    Returns
    -------
    str
        Tables of ``availability.exclusions``.
    """
    tables = [
        f'[[availability.exclusions]]\nrange = ["{mhz_text(row.low_hz)} MHz", '
        f'"{mhz_text(row.high_hz)} MHz"]\nreason = {json.dumps(row.reason, ensure_ascii=False)}\n'
        for row in rows
    ]
    return "\n".join(tables)


def _reason(row: Occupied, facts: Facts) -> str:
    name = "".join(c for c in facts.name if c.isprintable()).strip()[:_NAME]
    head = f"scan {name}".strip()
    if facts.taken is not None:
        head += f" {facts.taken:%Y-%m-%d}"
    return f"{head}: {row.peak_dbm:.1f} dBm at {mhz_text(row.peak_hz)} MHz"


def excess_db(
    sight: Sight, candidates_hz: Hertz, *, bandwidth_hz: int
) -> tuple[Numbers, NDArray[np.bool_]]:
    """Power around each candidate above what noise alone would give. O((n + m) log n).

    Parameters
    ----------
    sight : Sight
        A look at the scan.
    candidates_hz : numpy.ndarray
        Frequencies of interest.
    bandwidth_hz : int
        Width around each that a receiver takes in.

    Returns
    -------
    excess : numpy.ndarray
        In dB.
    heard : numpy.ndarray of bool
        Whether the scan covers the whole width.
    """
    low, high = sight.edges_hz
    width = (high - low).astype(np.float64)
    noise = traces.milliwatts(sight.floor_dbm + sight.held_bias_db)
    power = traces.milliwatts(sight.max_hold_dbm)
    # Running sums at the edges of cells; between cells they stand still over a gap.
    edges = np.empty(2 * len(low), dtype=np.float64)
    edges[0::2], edges[1::2] = low, high
    half = bandwidth_hz / 2
    ends = candidates_hz + half, candidates_hz - half

    def within(density: Numbers) -> Numbers:
        total = np.concatenate([[0.0], np.cumsum(density * width)])
        running = np.empty(len(edges))
        running[0::2], running[1::2] = total[:-1], total[1:]
        upper, lower = (np.interp(end, edges, running) for end in ends)
        return np.asarray(upper - lower)

    heard = within(np.ones(len(low))) >= _WHOLE * bandwidth_hz
    expected, found = within(noise), within(power)
    with np.errstate(divide="ignore", invalid="ignore"):
        excess = 10 * np.log10(found / expected)
    return np.where(heard, excess, np.nan), heard


def costs_of(
    sights: Sequence[Sight],
    candidates_hz: Hertz,
    *,
    bandwidth_hz: int,
    quiet_db: float,
    most: int,
    weight: int,
) -> NDArray[np.int64]:
    """Cost of each candidate: decibels above the floor, the worst of all scans.

    Parameters
    ----------
    sights : sequence of Sight
        Looks at one or more scans.
    candidates_hz : numpy.ndarray
        Frequencies.
    bandwidth_hz : int
        Width around each that a receiver takes in.
    quiet_db : float
        So much above the floor still costs nothing.
    most : int
        Cap in decibels; also what a frequency costs that no scan has heard.
    weight : int
        Cost of one decibel.

    Returns
    -------
    numpy.ndarray
        int64, one per candidate, in their order.
    """
    worst = np.full(len(candidates_hz), np.nan)
    for sight in sights:
        worst = np.fmax(worst, excess_db(sight, candidates_hz, bandwidth_hz=bandwidth_hz)[0])
    steps = np.ceil(np.clip(np.nan_to_num(worst, nan=float(most)) - quiet_db, 0, most))
    steps[np.isnan(worst)] = most
    costs: NDArray[np.int64] = (steps * weight).astype(np.int64)
    return costs
