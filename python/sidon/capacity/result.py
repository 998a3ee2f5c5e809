"""What a study of capacity answers: rows, what-ifs, mixes, as tables, text and picture."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sidon._columns import Columns, frozen
from sidon._frames import Framed
from sidon.capacity.verdict import FITS
from sidon.plan.caution import is_in_ear

__all__ = ["GAP_HZ", "Capacity", "Mix", "Row", "Spectrum", "WhatIf"]

Span = tuple[int, int]

GAP_HZ = 24_000_000
"""Tuning ranges no further apart are shown as one piece of spectrum."""

_COLUMNS: dict[str, type[np.generic]] = {
    "profile": np.str_,
    "kind": np.str_,
    "band": np.str_,
    "generic": np.bool_,
    "low_hz": np.int64,
    "high_hz": np.int64,
    "free_hz": np.int64,
    "unchecked_hz": np.int64,
    "candidates": np.int64,
    "fits": np.int64,
    "upper_bound": np.int64,
    "proof": np.str_,
    "asked": np.int64,
    "spares": np.int64,
    "later": np.int64,
    "headroom": np.int64,
    "headroom_later": np.int64,
    "verdict": np.str_,
    "reason": np.str_,
    "check": np.str_,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """How many carriers of one kind fit in one tuning range.

    Attributes
    ----------
    profile, kind, band : str
        The profile or class, what it is, and the tuning range by its name.
    generic : bool
        Whether it is a class of the catalogue, not a profile of the study.
    ranges_hz : tuple of (int, int)
        What it tunes.
    free_hz, unchecked_hz : int
        How much of that is free, and how much the study says nothing about.
    candidates : int
        Raster points on which a carrier may stand.
    fits : int
        Carriers of this kind that fit at once, and nothing else on the air but foreign carriers.
    upper_bound : int
        No more fit.
    proof : str
        Why not, as for `sidon.SetResult`.
    asked, spares, later : int
        Carriers wanted now, spares beside them, and both after growth.
    where : tuple of str
        The zones in whose common air these are wanted.
    verdict, reason : str
        What it means, in words.
    frequencies_hz : tuple of int
        The carriers that fit, ascending: a list to tune, one of many that are as valid.
    check : str
        What to check before any of it is used, such as a limit of bandwidth; empty where nothing.
    """

    profile: str
    kind: str
    band: str
    generic: bool
    ranges_hz: tuple[Span, ...]
    free_hz: int
    unchecked_hz: int
    candidates: int
    fits: int
    upper_bound: int
    proof: str
    asked: int
    spares: int
    later: int
    where: tuple[str, ...]
    verdict: str
    reason: str
    frequencies_hz: tuple[int, ...]
    check: str = ""

    @property
    def in_ear(self) -> bool:
        """Whether it is for in-ear monitors."""
        return is_in_ear(f"{self.profile} {self.kind}")

    @property
    def low_hz(self) -> int:
        """The lowest edge of what it tunes."""
        return min(low for low, _ in self.ranges_hz)

    @property
    def high_hz(self) -> int:
        """The highest edge of what it tunes."""
        return max(high for _, high in self.ranges_hz)

    @property
    def headroom(self) -> int:
        """Carriers that fit beyond those wanted now, spares included; negative where they lack."""
        return self.fits - self.asked - self.spares

    @property
    def headroom_later(self) -> int:
        """The same after growth."""
        return self.fits - self.later


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """How many fit if something were different.

    Attributes
    ----------
    profile, band, case : str
        Whose number, and what is different, such as "channel 18 on the air".
    fits, upper_bound, proof
        As in `Row`.
    change : int
        Carriers gained, negative where they are lost.
    verdict, reason : str
        What it would mean.
    frequencies_hz : tuple of int
        A list to tune then.
    """

    profile: str
    band: str
    case: str
    fits: int
    upper_bound: int
    proof: str
    change: int
    verdict: str
    reason: str
    frequencies_hz: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """How many of a second kind fit while a first one takes what is wanted of it, spares included.

    Attributes
    ----------
    first, first_band : str
        Who comes first.
    first_asked, first_spares, first_later : int
        What it asks where both are wanted, its spares, and both after growth.
    first_fits : int
        What it gets now, spares included.
    second, second_band : str
        Who takes what is left.
    asked, spares, later : int
        What that one asks, its spares, and both after growth.
    alone, fits, upper_bound : int
        How many of it fit without the first, and beside it now; no more do, even alone.
    together_bound : int
        No more of both fit at once.
    now, in_years : str
        Whether what is wanted of both, spares included, "fits", is "too few" (proved), or was "not
        found", now and after growth.
    verdict, reason : str
        What it means for both.
    first_frequencies_hz, frequencies_hz : tuple of int
        Lists to tune now, of the first and of the second.
    later_first_frequencies_hz, later_frequencies_hz : tuple of int
        The same after growth; empty where that was not looked into.
    """

    first: str
    first_band: str
    first_asked: int
    first_spares: int
    first_later: int
    first_fits: int
    second: str
    second_band: str
    asked: int
    spares: int
    later: int
    alone: int
    fits: int
    upper_bound: int
    together_bound: int
    now: str
    in_years: str
    verdict: str
    reason: str
    first_frequencies_hz: tuple[int, ...]
    frequencies_hz: tuple[int, ...]
    later_first_frequencies_hz: tuple[int, ...]
    later_frequencies_hz: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """What the study says about the air.

    Attributes
    ----------
    ranges_hz : tuple of (int, int)
        What may be used as far as nothing takes it.
    taken : tuple of (int, int, str)
        What is taken, and by what.
    source : str
        Who says so.
    as_of : date or None
        When.
    """

    ranges_hz: tuple[Span, ...]
    taken: tuple[tuple[int, int, str], ...]
    source: str
    as_of: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Capacity(Framed):
    """How many carriers fit at a place: estimates until a scan there confirms them.

    Immutable; compares by value; pickles.

    Attributes
    ----------
    study, place : str
        What was asked, and where.
    rows : tuple of Row
        One per profile or class and tuning range.
    what_ifs : tuple of WhatIf
        What would change the numbers.
    mixes : tuple of Mix
        Two kinds in one air.
    spectrum : Spectrum
        What they stand in.
    years : int
        When "later" is.
    notes : tuple of str
        What was assumed, and what to mind.
    seed : int
        The seed given.
    stop_reason : str
        ``"finished"``, ``"time-limit"``, ``"iteration-limit"`` or ``"interrupted"``.
    """

    study: str
    place: str
    rows: tuple[Row, ...]
    what_ifs: tuple[WhatIf, ...]
    mixes: tuple[Mix, ...]
    spectrum: Spectrum
    years: int
    notes: tuple[str, ...]
    seed: int
    stop_reason: str

    @property
    def enough(self) -> bool:
        """Whether what is asked fits with its spares: alone, and where two kinds share the air.

        Of every profile, judged by its widest row; or of one class of each kind where the study
        has no profile, and then in one of the mixes.
        """
        asked = [row for row in self.rows if row.asked]
        own: dict[str, bool] = {}
        best: dict[bool, bool] = {}
        for row in asked:
            fits = row.headroom >= 0
            if not row.generic:
                own[row.profile] = own.get(row.profile, False) or fits
            else:
                # Microphones and in-ears are asked for apart.
                best[row.in_ear] = best.get(row.in_ear, False) or fits
        if own:
            mixed = [mix for mix in self.mixes if {mix.first, mix.second} <= set(own)]
            return all(own.values()) and all(mix.now == FITS for mix in mixed)
        return all(best.values()) and (not self.mixes or any(mix.now == FITS for mix in self.mixes))

    def columns(self) -> Columns:
        """Return the rows as columns.

        Returns
        -------
        Columns
            ``profile``, ``kind``, ``band``, ``generic``, ``low_hz``, ``high_hz``, ``free_hz``,
            ``unchecked_hz``, ``candidates``, ``fits``, ``upper_bound``, ``proof``, ``asked``,
            ``spares``, ``later``, ``headroom``, ``headroom_later``, ``verdict``, ``reason``,
            ``check``.
        """
        return Columns(
            {
                name: frozen(np.array([getattr(row, name) for row in self.rows], dtype=kind))
                for name, kind in _COLUMNS.items()
            }
        )

    def to_csv(self, path: str | Path) -> None:
        """Write rows, what-ifs and mixes as CSV, each with its list to tune; whole or not at all.

        Parameters
        ----------
        path : str or Path
            Where to; an existing file is replaced in one step.

        Raises
        ------
        PlanError
            When something that is no regular file stands there; it is left alone.
        OSError
            When it cannot be written; what stood there before still does.
        """
        from sidon._files import write_text
        from sidon.capacity.text import csv_text

        write_text(path, csv_text(self))

    def summary(self) -> str:
        """Summarise in plain text, at most a hundred columns wide.

        Returns
        -------
        str
            A table, the reasons, what-ifs, mixes, and what to mind.
        """
        from sidon.capacity.text import summary

        return summary(self)

    def picture(self, path: str | Path) -> None:
        """Draw tuning ranges against what is taken, with the counts beside them.

        Parameters
        ----------
        path : str or Path
            Where to; the ending decides the format (png, pdf, svg).

        Raises
        ------
        ValueError
            When the ending names no format.
        PlanError
            When something that is no regular file stands there; it is left alone.
        OSError
            When it cannot be written; what stood there before still does.
        """
        # The picture is above the answer in the house; only this call needs it and matplotlib.
        from sidon.view.capacity import save

        save(self, path)

    def __repr__(self) -> str:
        lines = [f"Capacity({self.study!r}: {len(self.rows)} rows)"]
        lines += [f"  {r.profile} {r.band}: {r.fits} fit, {r.verdict}" for r in self.rows[:20]]
        if len(self.rows) > 20:
            lines.append(f"  ... {len(self.rows) - 20} more rows")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        from sidon.capacity.text import html_text

        return html_text(self)
