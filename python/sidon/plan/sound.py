"""What is wrong with a plan document: its shape, and what its parts contradict in each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain, combinations
from typing import Any

from pydantic import BaseModel, ValidationError

from sidon import _engine
from sidon._schema import Part, place_of, plain
from sidon.exceptions import FURTHER, Fault, PlanError, UnreadableError
from sidon.plan.document import (
    FORMAT,
    AskedRecord,
    AssignmentRecord,
    CouplingRecord,
    IncumbentRecord,
    PlanDocument,
    ProfileRecord,
    RefusedRecord,
    WindowRecord,
)

__all__ = ["document_faults", "listed", "read_document"]

_MOST_PAIRS = 10


def read_document(mapping: object) -> PlanDocument:
    """Read a plan from plain data.

    Parameters
    ----------
    mapping : mapping
        A plan as written.

    Returns
    -------
    PlanDocument
        Of the right shape; `document_faults` tells whether its parts go together.

    Raises
    ------
    PlanError
        When it has another shape; every fault is listed, and what can be told of the rest.
    """
    try:
        return PlanDocument.model_validate(mapping)
    except ValidationError as error:
        details = error.errors(include_url=False)
    faults = [_shape_fault(detail) for detail in details] + _faults(Part(PlanDocument, mapping))
    # An unknown key hides nothing; a field that cannot be read may.
    hides = any(detail["type"] != "extra_forbidden" for detail in details)
    raise PlanError(listed("it is not a plan", faults) + FURTHER * hides)


def listed(head: str, faults: Sequence[Fault]) -> str:
    """Write faults down under a heading.

    Parameters
    ----------
    head : str
        What they amount to.
    faults : sequence of Fault
        At least one.

    Returns
    -------
    str
        A line each.
    """
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return f"{head}: {count}" + "".join(f"\n  {fault}" for fault in faults)


def document_faults(document: PlanDocument) -> list[Fault]:
    """Find what the parts of a plan document contradict in each other.

    Parameters
    ----------
    document : PlanDocument
        Of the right shape.

    Returns
    -------
    list of Fault
        Every contradiction.
    """
    return _faults(Part(PlanDocument, document.model_dump()))


def _shape_fault(detail: Any) -> Fault:  # noqa: ANN401 - pydantic's, told apart by its type
    loc, kind = detail["loc"], detail["type"]
    place = place_of(loc)
    if kind == "missing":
        return Fault(place, f"the key {loc[-1]!r} is missing", f"add it, as {FORMAT} says")
    if kind == "extra_forbidden":
        return Fault(place, f"the key {loc[-1]!r} is unknown", f"write keys as {FORMAT} says")
    what, remedy = plain(detail)
    if loc == ("format",):
        remedy = f"only {FORMAT!r} can be read"
    return Fault(place, what, remedy)


def _faults(plan: Part[PlanDocument]) -> list[Fault]:
    rows = _Rows(plan)
    return list(
        chain(
            _names(rows),
            _forms(rows),
            _pairs(rows),
            _references(rows),
            _asked(rows),
            _times(rows),
        )
    )


class _Rows:
    """The readable rows of a plan."""

    def __init__(self, plan: Part[PlanDocument]) -> None:
        def table(name: str, model: type[BaseModel]) -> dict[str, Part[Any]]:
            return {f"{name}[{i}]": row for i, row in plan.rows(name, model).items()}

        self.plan = plan
        self.profiles = table("profiles", ProfileRecord)
        self.windows = table("windows", WindowRecord)
        self.couplings = table("couplings", CouplingRecord)
        self.assignments = table("assignments", AssignmentRecord)
        self.incumbents = table("incumbents", IncumbentRecord)
        self.refused = table("refused", RefusedRecord)
        self.asked = plan.part("asked", AskedRecord)
        self.zones: list[str] = [name for _, name in plan.items("zones")]


def _read(rows: Mapping[str, Part[Any]], field: str) -> list[str]:
    values = (row.get(field) for row in rows.values())
    return [value for value in values if value is not None]


def _names(rows: _Rows) -> Iterator[Fault]:
    asked = rows.asked.items("required") + rows.asked.items("spares")
    sections = {
        "profiles": _read(rows.profiles, "name"),
        "zones": rows.zones,
        "windows": _read(rows.windows, "name"),
        "asked": [name for _, name in asked],
        "assignments, incumbents and refused": [
            *_read(rows.assignments, "link"),
            *_read(rows.incumbents, "name"),
            *_read(rows.refused, "link"),
        ],
        "couplings": [" and ".join(sorted(zones)) for zones in _read(rows.couplings, "zones")],
    }
    for section, names in sections.items():
        for name, times in Counter(names).items():
            if times > 1:
                yield Fault(section, f"{name!r} stands {times} times", "keep one")


def _forms(rows: _Rows) -> Iterator[Fault]:
    for place, profile in rows.profiles.items():
        seen = set()
        for key in profile.keys("guards_hz"):
            where = f"{place}.guards_hz.{key}"
            try:
                form = _engine.canonical_form(key)
            except UnreadableError as error:
                yield Fault(where, f"it is not a product form: {error.why}", error.remedy)
                continue
            if form in seen:
                yield Fault(where, f"the form {form} has two guards", "keep one of them")
            seen.add(form)


def _pairs(rows: _Rows) -> Iterator[Fault]:
    # A pair left out would be read one way here and another way elsewhere.
    there = {frozenset(row.get("zones") or ()) for row in rows.couplings.values()}
    zones = list(dict.fromkeys(rows.zones))
    missing = [pair for pair in combinations(zones, 2) if frozenset(pair) not in there]
    remedy = "add each pair with its degree: full, separation or none"
    for a, b in missing[:_MOST_PAIRS]:
        yield Fault("couplings", f"the pair {a!r} and {b!r} is not listed", remedy)
    if len(missing) > _MOST_PAIRS:
        left = f"{len(missing) - _MOST_PAIRS} more pairs are not listed"
        yield Fault("couplings", left, remedy)


def _references(rows: _Rows) -> Iterator[Fault]:
    profiles, windows = set(_read(rows.profiles, "name")), set(_read(rows.windows, "name"))
    zones = set(rows.zones)
    for place, coupling in rows.couplings.items():
        for name in coupling.get("zones") or ():
            if name not in zones:
                yield Fault(place, f"no zone is named {name!r}", "add it")
    for place, row in {**rows.assignments, **rows.incumbents}.items():
        for field, known in (("profile", profiles), ("zone", zones)):
            name = row.get(field)
            if name is not None and name not in known:
                yield Fault(f"{place}.{field}", f"no {field} is named {name!r}", "add it")
        for _, name in row.items("windows"):
            if name not in windows:
                yield Fault(f"{place}.windows", f"no window is named {name!r}", "add it")
    given = set(rows.plan.keys("availability"))
    empty = {name for name, spans in rows.plan.entries("availability") if not spans}
    for name in sorted(set(_read(rows.assignments, "profile")) & profiles):
        if name not in given or name in empty:
            remedy = "add the ranges its carriers may stand in"
            yield Fault("availability", f"the profile {name!r} has none", remedy)


def _asked(rows: _Rows) -> Iterator[Fault]:
    if rows.asked.whole is None:
        return
    spare = dict.fromkeys(rows.asked.get("required"), False)
    spare |= dict.fromkeys(rows.asked.get("spares"), True)
    for place, row in {**rows.assignments, **rows.refused}.items():
        link = row.get("link")
        if link is None:
            continue
        if link not in spare:
            what = f"{link!r} is not among the links asked for"
            yield Fault(f"{place}.link", what, "add it to asked, or take the row out")
        elif row.get("spare") not in (spare[link], None):
            what = f"{link!r} is asked for as a {'spare' if spare[link] else 'required link'}"
            yield Fault(f"{place}.spare", what, f"write {str(spare[link]).lower()}")


def _times(rows: _Rows) -> Iterator[Fault]:
    for place, window in rows.windows.items():
        start, end = window.get("start"), window.get("end")
        if start is None or end is None:
            continue
        if start.tzinfo is not None or end.tzinfo is not None:
            yield Fault(place, "a time carries an offset", "write local time")
        elif end <= start:
            yield Fault(place, "it ends before it starts", "exchange the two")
