"""From places in the demand that requests became back to the row and column that asked for it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from sidon.exceptions import Fault

__all__ = ["Places"]

_AT = re.compile(r"\b(demand|profiles)\[(\d+)\](?:\.(\w+)(?:\[\d+\])?)?")

# What the schema calls a field, and what a request calls it.
_FIELD = {"ids": "link", "id": "link", "ranges": "tuning"}


@dataclass
class Places:
    """Where requests stand.

    Parameters
    ----------
    rows : dict of (str, int) to str
        The row behind an entry of ``demand`` or ``profiles``.
    headers : mapping of str to str
        The header of each field.
    locks : dict of str to str
        The place behind the lock of a link.
    told : set of str
        Places whose fault is told already.
    """

    rows: dict[tuple[str, int], str] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)
    locks: dict[str, str] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)

    def cell(self, row: str, name: str) -> str:
        """Name a cell by its row and column."""
        return f"{row}, column {self.headers.get(name, name)!r}"

    def moved(self, faults: Iterable[Fault]) -> list[Fault]:
        """Place faults where the requests stand; what is told already is left out.

        Parameters
        ----------
        faults : iterable of Fault
            Placed in the study that the requests became part of.

        Returns
        -------
        list of Fault
            In the same order.
        """
        found: list[Fault] = []
        named: set[tuple[str, str]] = set()
        for fault in faults:
            place = self.locks.get(fault.place.removeprefix("locks."))
            place = place or self._text(fault.place)
            if place in self.told:
                continue
            # All links of a row take their names from one cell.
            if place != fault.place and re.search(r"\.ids?\b", fault.place):
                if (place, fault.remedy) in named:
                    continue
                named.add((place, fault.remedy))
            found.append(Fault(place, self._text(fault.what), self._text(fault.remedy)))
        return found

    def _text(self, text: str) -> str:
        def cell(match: re.Match[str]) -> str:
            section, index, name = match[1], int(match[2]), match[3]
            row = self.rows.get((section, index))
            if row is None:
                return match[0]
            if section == "profiles":
                return self.cell(row, "tuning")
            return self.cell(row, _FIELD.get(name, name)) if name else row

        return _AT.sub(cell, text)
