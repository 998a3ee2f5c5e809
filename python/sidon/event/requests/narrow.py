"""Profiles narrowed to the tuning range a request names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from sidon.event.requests.cells import CellError
from sidon.study.schema import Profile
from sidon.units import mhz_text

__all__ = ["Narrowed"]

Span = tuple[int, int]


class Narrowed:
    """Profiles made for requests, each once.

    Parameters
    ----------
    profiles : object
        The profiles of the study as written, sound or not.

    Attributes
    ----------
    profiles : list of dict
        What was made, in the order it was asked for.
    rows : list of str
        The request that asked for each first.
    """

    def __init__(self, profiles: object) -> None:
        entries = profiles if isinstance(profiles, list) else []
        self._written = {
            entry["name"].strip(): entry
            for entry in reversed(entries)
            if isinstance(entry, Mapping) and isinstance(entry.get("name"), str)
        }
        self._made: dict[tuple[str, tuple[Span, ...]], str] = {}
        self.profiles: list[dict[str, Any]] = []
        self.rows: list[str] = []

    def name(self, profile: str, tuning: Sequence[Span], row: str) -> str:
        """Return the name of a profile that tunes only where a request says.

        Parameters
        ----------
        profile : str
            The profile to narrow; returned as it is when it is unknown or unsound, which is a
            fault of its own.
        tuning : sequence of (int, int)
            Ranges in hertz.
        row : str
            Where the request stands.

        Returns
        -------
        str
            The profile itself when the tuning takes nothing away.

        Raises
        ------
        CellError
            When nothing is left of its ranges.
        """
        written = self._written.get(profile)
        try:
            whole = Profile.model_validate(written)
        except ValidationError:
            return profile
        kept = _common(whole.ranges, tuning)
        if not kept:
            spans = ", ".join(_span(span) for span in whole.ranges)
            what = f"{', '.join(map(_span, tuning))} MHz is outside the tuning of {profile!r}"
            raise CellError(what, f"it tunes {spans} MHz; name another profile or range")
        if kept == _common(whole.ranges, whole.ranges):
            return profile
        key = (profile, kept)
        if key not in self._made:
            self._made[key] = self._make(whole, kept)
            self.rows.append(row)
        return self._made[key]

    def _make(self, whole: Profile, kept: tuple[Span, ...]) -> str:
        spans = ", ".join(_span(span) for span in kept[:2]) + (", ..." if len(kept) > 2 else "")
        base = f"{whole.name[:50]} {spans}"
        name, number = base, 1
        while name in self._written or name in self._made.values():
            number += 1
            name = f"{base} ({number})"
        fields = whole.model_dump(mode="json", exclude_none=True)
        fields.pop("bands", None)
        fields |= {
            "name": name,
            "part_of": whole.name,
            "raster_origin": f"{mhz_text(whole.origin_hz)} MHz",
            "ranges": [[f"{mhz_text(low)} MHz", f"{mhz_text(high)} MHz"] for low, high in kept],
        }
        self.profiles.append(fields)
        return name


def _common(ranges: Sequence[Span], tuning: Sequence[Span]) -> tuple[Span, ...]:
    """Where both tune."""
    both = {
        (max(a, low), min(b, high))
        for a, b in ranges
        for low, high in tuning
        if max(a, low) < min(b, high)
    }
    return tuple(sorted(both))


def _span(span: Span) -> str:
    low, high = (mhz_text(hz).removesuffix(".000") for hz in span)
    return f"{low}-{high}"
