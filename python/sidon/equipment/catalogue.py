"""The catalogue of classes: the one shipped with the package, and files of the reader's own."""

from __future__ import annotations

import html
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, ValidationError

from sidon._columns import Columns
from sidon._faults import schema_faults
from sidon.exceptions import Fault, StudyError
from sidon.study.schema import EquipmentClass
from sidon.study.source import read_file, read_toml
from sidon.units import mhz_text

__all__ = ["FORMAT", "Catalogue", "classes", "classes_in", "read_classes"]

FORMAT = "sidon-equipment/1"


class _File(BaseModel):
    """What may stand in a file of classes."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    format: Literal["sidon-equipment/1"]
    classes: list[EquipmentClass]


class Catalogue(Mapping[str, EquipmentClass]):
    """Classes of equipment by name, in the order in which they were given.

    Parameters
    ----------
    entries : iterable of EquipmentClass
        Of two with one name the later counts.

    Examples
    --------
    >>> import sidon
    >>> known = sidon.classes()
    >>> known["standard-digital"].separation
    350000
    >>> "invented" in known["standard-digital"].source
    True
    """

    __slots__ = ("_entries",)

    def __init__(self, entries: Iterable[EquipmentClass]) -> None:
        self._entries = {entry.name: entry for entry in entries}

    def __getitem__(self, name: str) -> EquipmentClass:
        return self._entries[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def columns(self) -> Columns:
        """Return one row per class and band.

        Returns
        -------
        Columns
            ``class``, ``kind``, ``band``, ``low_hz``, ``high_hz``, ``raster_hz``, ``bandwidth_hz``,
            ``separation_hz``, ``guards``, ``mixes``, ``power``, ``source``, ``as_of``, ``caution``.
        """
        rows = [(c, band, *span) for c in self.values() for band, span in c.bands.items()]

        def text(values: Iterable[object]) -> np.ndarray[Any, np.dtype[np.str_]]:
            return np.array([str(value) for value in values], dtype=np.str_)

        def hertz(values: Iterable[int]) -> np.ndarray[Any, np.dtype[np.int64]]:
            return np.array(list(values), dtype=np.int64)

        return Columns(
            {
                "class": text(c.name for c, *_ in rows),
                "kind": text(c.kind for c, *_ in rows),
                "band": text(band for _, band, *_ in rows),
                "low_hz": hertz(low for _, _, low, _ in rows),
                "high_hz": hertz(high for *_, high in rows),
                "raster_hz": hertz(c.raster for c, *_ in rows),
                "bandwidth_hz": hertz(c.bandwidth for c, *_ in rows),
                "separation_hz": hertz(c.separation for c, *_ in rows),
                "guards": text(_guards(c) for c, *_ in rows),
                "mixes": np.array([c.mixes for c, *_ in rows], dtype=np.bool_),
                "power": text(c.power for c, *_ in rows),
                "source": text(c.source for c, *_ in rows),
                "as_of": text(c.as_of or "" for c, *_ in rows),
                "caution": text(c.caution for c, *_ in rows),
            }
        )

    def __repr__(self) -> str:
        lines = [f"{len(self)} classes of equipment"]
        for entry in self.values():
            apart, guards = mhz_text(entry.separation), _guards(entry)
            lines.append(f"  {entry.name}: {entry.kind}; {', '.join(entry.bands)} MHz")
            lines.append(f"      {apart} MHz apart; guards in MHz: {guards}; {entry.power}")
            lines.append(f"      {_provenance(entry)}")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        names = ("class", "kind", "bands (MHz)", "separation (MHz)", "guards", "power", "source")
        head = "".join(f"<th>{name}</th>" for name in names)
        body = ""
        for entry in self.values():
            cells = (
                entry.name,
                entry.kind,
                ", ".join(entry.bands),
                mhz_text(entry.separation),
                _guards(entry),
                entry.power,
                _provenance(entry),
            )
            body += "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in cells) + "</tr>"
        return f"<table><caption>Classes of equipment</caption><tr>{head}</tr>{body}</table>"


def classes(*paths: str | Path) -> Catalogue:
    """List the classes of equipment: those shipped with the package, then those of your own files.

    Parameters
    ----------
    *paths : str or Path
        TOML or JSON: ``format = "sidon-equipment/1"`` and ``[[classes]]`` tables. A class with a
        name that there is already takes its place.

    Returns
    -------
    Catalogue
        Classes by name. Those shipped are invented, typical of their class, and say so.

    Raises
    ------
    StudyError
        When a file holds faults; ``faults`` lists every one.
    OSError
        When a file cannot be read.

    Examples
    --------
    >>> import sidon
    >>> list(sidon.classes())[:3]
    ['narrow-analogue', 'wide-analogue', 'standard-digital']
    """
    own = [entry for path in paths for entry in read_classes(path)]
    return Catalogue([*_shipped(), *own])


def read_classes(path: str | Path) -> list[EquipmentClass]:
    """Read a file of classes.

    Parameters
    ----------
    path : str or Path
        A file whose name ends in ``.toml`` or ``.json``.

    Returns
    -------
    list of EquipmentClass
        In the order of the file.

    Raises
    ------
    StudyError
        When it holds faults; each place begins with the name of the file.
    OSError
        When it cannot be read.
    """
    return classes_in(read_file(path), Path(path).name)


def classes_in(fields: object, name: str) -> list[EquipmentClass]:
    """Read the classes of a file of classes.

    Parameters
    ----------
    fields : mapping
        What the file holds.
    name : str
        What it is called.

    Returns
    -------
    list of EquipmentClass
        In the order of the file.

    Raises
    ------
    StudyError
        When it holds faults; each place begins with the name of the file.
    """
    try:
        found = _File.model_validate(fields).classes
    except ValidationError as error:
        faults = [_in_file(name, fault) for fault in schema_faults(error, _File)]
        raise StudyError(faults) from None
    names = [entry.name for entry in found]
    repeated = [
        Fault(f"{name}: classes[{i}].name", f"the name {word!r} stands twice", "keep it once")
        for i, word in enumerate(names)
        if word in names[:i]
    ]
    if repeated:
        raise StudyError(repeated)
    return found


def _in_file(name: str, fault: Fault) -> Fault:
    if fault.place == "format":
        return Fault(f"{name}: format", fault.what, f"write format = {FORMAT!r} as the first line")
    return Fault(f"{name}: {fault.place}", fault.what, fault.remedy)


@cache
def _shipped() -> tuple[EquipmentClass, ...]:
    text = files(__package__).joinpath("catalogue.toml").read_text(encoding="utf-8")
    return tuple(classes_in(read_toml(text, name="catalogue.toml"), "catalogue.toml"))


def _guards(entry: EquipmentClass) -> str:
    return ", ".join(f"{form} {mhz_text(hz)}" for form, hz in entry.guards.items()) or "none"


def _provenance(entry: EquipmentClass) -> str:
    parts = [entry.source, str(entry.as_of or "without a date"), entry.caution]
    return "; ".join(part for part in parts if part)
