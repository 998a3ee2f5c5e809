"""A study with some of its keys changed: the what-ifs of a sweep."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from sidon.exceptions import Fault, StudyError
from sidon.study import Study

__all__ = ["Changes", "changed"]

Changes = Mapping[str, Any]
"""New values by the path of their key, such as ``{"availability.edge_guard": "1 MHz"}``."""

_NAMES = ("name", "id")
_ALL = "*"
_MORE = "+"


def changed(study: Study, changes: Changes) -> Study:
    """Return the study with some keys changed.

    Parameters
    ----------
    study : Study
        What to start from; it stays as it is.
    changes : mapping of str to object
        New values by path. Parts are joined by dots; a row of a list is named by its ``name`` or
        ``id`` (``"profiles.handheld.separation"``), ``*`` means every row
        (``"profiles.*.guards"``), a path that ends in ``+`` adds to a list
        (``"availability.occupied+": [30]``), and None removes the key.

    Returns
    -------
    Study
        A sound study.

    Raises
    ------
    StudyError
        When a path leads nowhere, or the changed study holds faults; every one is listed.

    Examples
    --------
    >>> from sidon.demo import study_text
    >>> study = Study.from_toml_text(study_text())
    >>> wider = changed(study, {"availability.occupied+": [29], "profiles.*.separation": "500 kHz"})
    >>> len(wider.model.availability.occupied) - len(study.model.availability.occupied)
    1
    """
    # Deep, so that no value is shared with the study or with the caller.
    mapping = copy.deepcopy(study.to_dict())
    faults = []
    for path, value in changes.items():
        try:
            _change(mapping, path, copy.deepcopy(value))
        except _LostError as lost:
            faults.append(Fault(f"changes[{path!r}]", lost.what, lost.remedy))
    if faults:
        raise StudyError(faults)
    return Study.from_dict(mapping)


class _LostError(Exception):
    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


def _change(mapping: dict[str, Any], path: str, value: object) -> None:
    *way, last = path.split(".")
    if not all((*way, last.removesuffix(_MORE))):
        what = "the path has an empty part"
        raise _LostError(what, "write parts joined by single dots, such as 'availability.occupied'")
    places: list[Any] = [mapping]
    for part in way:
        places = [inner for place in places for inner in _inside(place, part)]
    for place in places:
        _set(place, last, value)


def _inside(place: object, part: str) -> list[Any]:
    if isinstance(place, dict):
        if part not in place:
            # A table that is not written yet, such as locks.
            place[part] = {}
        return [place[part]]
    if isinstance(place, list):
        if part == _ALL:
            return list(place)
        named = [row for row in place if _is_named(row, part)]
        if named:
            return named
        what = f"no row is named {part!r}"
        raise _LostError(what, f"name one of {_names(place)}, or '*'")
    what = f"{part!r} lies inside a single value"
    raise _LostError(what, "end the path before it")


def _set(place: object, key: str, value: object) -> None:
    if not isinstance(place, dict):
        what = f"{key!r} is to be set inside something that has no keys"
        raise _LostError(what, "name a row first, such as 'profiles.handheld.raster'")
    if key.endswith(_MORE):
        key = key.removesuffix(_MORE)
        there = place.setdefault(key, [])
        if not isinstance(there, list) or not isinstance(value, list):
            what = f"{key!r} cannot be added to"
            raise _LostError(what, "'+' adds a list to a list; without it the value is replaced")
        there.extend(value)
    elif value is None:
        place.pop(key, None)
    else:
        place[key] = value


def _is_named(row: object, name: str) -> bool:
    return isinstance(row, dict) and any(row.get(key) == name for key in _NAMES)


def _names(rows: list[Any]) -> str:
    keys = (row.get(key) for row in rows if isinstance(row, dict) for key in _NAMES)
    return ", ".join(repr(name) for name in keys if name is not None) or "no rows"
