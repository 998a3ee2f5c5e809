"""Profiles that name a class: its figures filled in before the study is read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from sidon._faults import nearest
from sidon._schema import shown
from sidon.equipment.catalogue import Catalogue, classes
from sidon.exceptions import Fault
from sidon.study.place_files import UNREAD
from sidon.study.schema import EquipmentClass

__all__ = ["Expanded", "catalogue_of", "with_classes"]

_FIGURES = (
    "kind",
    "bands",
    "raster",
    "raster_origin",
    "bandwidth",
    "separation",
    "guards",
    "mixes",
    "source",
    "as_of",
)
_NEEDED = ("name", "ranges", "raster", "bandwidth", "separation")


@dataclass
class Expanded:
    """A study with the figures of its classes filled in.

    Parameters
    ----------
    mapping : object
        The study; what stood under ``class``, ``band`` and ``equipment`` is resolved.
    faults : list of Fault
        What could not be resolved.
    excused : set of str
        Places that stay empty because of such a fault, and need no complaint of their own.
    """

    mapping: Any
    faults: list[Fault] = field(default_factory=list)
    excused: set[str] = field(default_factory=set)


def with_classes(mapping: object) -> Expanded:
    """Fill in what the profiles of a study take from classes. O(n) in its entries.

    Parameters
    ----------
    mapping : object
        A study as written.

    Returns
    -------
    Expanded
        The study, with what is wrong.
    """
    found = Expanded(mapping)
    if not isinstance(mapping, Mapping):
        return found
    fields = dict(mapping)
    if "equipment" in fields:
        read = list(_files(fields["equipment"], found))
        own = fields.get("classes", [])
        fields["classes"] = [*read, *own] if isinstance(own, list) else own
        del fields["equipment"]
    known, named = _known(fields.get("classes"), found)
    profiles = fields.get("profiles")
    if isinstance(profiles, list):
        fields["profiles"] = [
            _resolved(raw, f"profiles[{i}]", known, named, found)
            if isinstance(raw, Mapping)
            else raw
            for i, raw in enumerate(profiles)
        ]
    found.mapping = fields
    return found


def catalogue_of(own: Sequence[EquipmentClass]) -> Catalogue:
    """Return the classes shipped with the package and those of a study.

    Parameters
    ----------
    own : sequence of EquipmentClass
        Those of the study; they take the place of others of their name.

    Returns
    -------
    Catalogue
        All of them.
    """
    return Catalogue([*classes().values(), *own])


def _files(named: object, found: Expanded) -> Iterator[object]:
    """List the classes of the files that are attached, as they stand there."""
    listed = isinstance(named, list)
    for index, entry in enumerate(named if isinstance(named, list) else [named]):
        if entry is UNREAD:
            continue
        if isinstance(entry, Mapping) and isinstance(entry.get("classes"), list):
            yield from entry["classes"]
            continue
        place = f"equipment[{index}]" if listed else "equipment"
        what = f"{shown(entry)} is not the name of a file"
        found.faults.append(Fault(place, what, "write text, in quotes"))


def _known(own: object, found: Expanded) -> tuple[Catalogue, set[str]]:
    """Return the sound classes, and all names written in the study's own, sound or not."""
    entries: list[EquipmentClass] = []
    names: list[str] = []
    for index, raw in enumerate(own if isinstance(own, list) else ()):
        name = raw.get("name") if isinstance(raw, Mapping) else None
        if isinstance(name, str):
            if name.strip() in names:
                what = f"the name {name.strip()!r} stands twice"
                found.faults.append(Fault(f"classes[{index}].name", what, "give each its own name"))
            names.append(name.strip())
        try:
            entries.append(EquipmentClass.model_validate(raw))
        except ValidationError:
            continue  # the schema says what is wrong with it
    return catalogue_of(entries), set(names)


def _resolved(
    raw: Mapping[str, Any], place: str, known: Catalogue, named: set[str], found: Expanded
) -> dict[str, Any]:
    own = dict(raw)
    wanted, band = own.pop("class", None), own.pop("band", None)
    figures: dict[str, Any] = {}
    if wanted is not None:
        if isinstance(wanted, str) and wanted.strip() in known:
            entry = known[wanted.strip()]
            whole = entry.model_dump(mode="json", exclude_none=True)
            figures = {key: whole[key] for key in _FIGURES if key in whole}
            figures["name"] = entry.name
        else:
            found.excused |= {f"{place}.{key}" for key in _NEEDED if key not in own}
            if not (isinstance(wanted, str) and wanted.strip() in named):
                found.faults.append(_unknown_class(place, wanted, known))
    if "ranges" in own:
        figures.pop("bands", None)
        if band is not None:
            remedy = "keep ranges, or choose by band"
            found.faults.append(Fault(f"{place}.band", "both ranges and band are given", remedy))
        return {**figures, **own}
    merged = {**figures, **own}
    bands = merged.get("bands")
    if not isinstance(bands, Mapping) or not bands:
        if band is not None and f"{place}.ranges" not in found.excused:
            what, remedy = "there are no bands to choose from", "add class or bands, or give ranges"
            found.faults.append(Fault(f"{place}.band", what, remedy))
        return merged
    chosen = _chosen(band, bands, place, found)
    merged["bands"] = chosen
    if chosen:
        merged["ranges"] = list(chosen.values())
    else:
        found.excused.add(f"{place}.ranges")
    return merged


def _unknown_class(place: str, wanted: object, known: Catalogue) -> Fault:
    names = f"known: {', '.join(known)}"
    if not isinstance(wanted, str):
        return Fault(f"{place}.class", f"{shown(wanted)} is not the name of a class", names)
    guess = nearest(wanted, list(known))
    remedy = f"{guess} {names}" if guess.startswith("did") else names
    return Fault(f"{place}.class", f"the class {wanted!r} is unknown", remedy)


def _chosen(band: object, bands: Mapping[str, Any], place: str, found: Expanded) -> dict[str, Any]:
    """Return the bands that are named; without a name all, as in a stock of every variant."""
    if band is None:
        return dict(bands)
    listed = isinstance(band, list)
    chosen: dict[str, Any] = {}
    for index, name in enumerate(band if isinstance(band, list) else [band]):
        if isinstance(name, str) and name.strip() in bands:
            chosen[name.strip()] = bands[name.strip()]
            continue
        where = f"{place}.band[{index}]" if listed else f"{place}.band"
        what = f"the band {shown(name)} is unknown"
        found.faults.append(Fault(where, what, f"known: {', '.join(map(str, bands))}"))
    return chosen
