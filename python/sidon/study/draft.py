"""What can be read of a study that may still hold faults, so that all of them are found at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from sidon.exceptions import Fault
from sidon.study.faults import schema_faults
from sidon.study.quantity import Carrier
from sidon.study.schema import (
    Availability,
    Coupling,
    Demand,
    Incumbent,
    Profile,
    StudyModel,
    Window,
    Zone,
)

__all__ = ["Draft", "read"]

T = TypeVar("T", bound=BaseModel)


@dataclass
class Draft:
    """The sound parts of a study, by their index in the file.

    Parameters
    ----------
    availability : Availability or None
        None when it holds a fault.
    profiles, zones, couplings, windows, demand, incumbents : dict
        The sound entries of each list.
    locks : dict of str to int
        The sound locks.
    names : dict of str to list of str
        All names written in the lists of profiles, zones and windows, sound or not.
    complete : bool
        Whether every row of demand is sound, so that a link not found there does not exist.
    """

    availability: Availability | None = None
    profiles: dict[int, Profile] = field(default_factory=dict)
    zones: dict[int, Zone] = field(default_factory=dict)
    couplings: dict[int, Coupling] = field(default_factory=dict)
    windows: dict[int, Window] = field(default_factory=dict)
    demand: dict[int, Demand] = field(default_factory=dict)
    incumbents: dict[int, Incumbent] = field(default_factory=dict)
    locks: dict[str, int] = field(default_factory=dict)
    names: dict[str, list[str]] = field(
        default_factory=lambda: {"profiles": [], "zones": [], "windows": []}
    )
    complete: bool = True

    def profile(self, name: str) -> Profile | None:
        """Return the first sound profile of this name."""
        return next((p for p in self.profiles.values() if p.name == name), None)


def read(mapping: object) -> tuple[StudyModel | None, Draft, list[Fault]]:
    """Read a mapping against the schema.

    Parameters
    ----------
    mapping : mapping
        A study as written; anything else is a fault.

    Returns
    -------
    model : StudyModel or None
        The study, when the schema has no complaint.
    draft : Draft
        What is sound of it.
    faults : list of Fault
        Every complaint of the schema.
    """
    if not isinstance(mapping, Mapping):
        what = f"a {type(mapping).__name__} is not a table"
        return None, Draft(), [Fault("study", what, "give a mapping of keys and values")]
    try:
        model = StudyModel.model_validate(mapping)
    except ValidationError as error:
        return None, _salvage(mapping), schema_faults(error, StudyModel)
    draft = Draft(
        availability=model.availability,
        profiles=dict(enumerate(model.profiles)),
        zones=dict(enumerate(model.zones)),
        couplings=dict(enumerate(model.couplings)),
        windows=dict(enumerate(model.windows)),
        demand=dict(enumerate(model.demand)),
        incumbents=dict(enumerate(model.incumbents)),
        locks=model.locks,
        names={
            "profiles": [p.name for p in model.profiles],
            "zones": [z.name for z in model.zones],
            "windows": [w.name for w in model.windows],
        },
    )
    return model, draft, []


def _salvage(mapping: Mapping[str, Any]) -> Draft:
    names = {key: _names(mapping.get(key)) for key in ("profiles", "zones", "windows")}
    zones = mapping.get("zones")
    if isinstance(zones, list):
        zones = [{"name": zone} if isinstance(zone, str) else zone for zone in zones]
    demand = mapping.get("demand")
    rows = _sound(Demand, demand)
    return Draft(
        availability=_sound(Availability, [mapping.get("availability")]).get(0),
        profiles=_sound(Profile, mapping.get("profiles")),
        zones=_sound(Zone, zones),
        couplings=_sound(Coupling, mapping.get("couplings")),
        windows=_sound(Window, mapping.get("windows")),
        demand=rows,
        incumbents=_sound(Incumbent, mapping.get("incumbents")),
        locks=_sound_locks(mapping.get("locks")),
        names=names,
        complete=isinstance(demand, list) and len(rows) == len(demand),
    )


def _names(section: object) -> list[str]:
    if not isinstance(section, list):
        return []
    entries = [entry.get("name") if isinstance(entry, Mapping) else entry for entry in section]
    return [entry.strip() for entry in entries if isinstance(entry, str)]


def _sound(model: type[T], section: object) -> dict[int, T]:
    sound: dict[int, T] = {}
    for index, entry in enumerate(section if isinstance(section, list) else []):
        try:
            sound[index] = model.model_validate(entry)
        except ValidationError:
            continue
    return sound


def _sound_locks(section: object) -> dict[str, int]:
    adapter = TypeAdapter(dict[str, Carrier])
    sound: dict[str, int] = {}
    for link, frequency in section.items() if isinstance(section, Mapping) else ():
        try:
            sound.update(adapter.validate_python({link: frequency}))
        except ValidationError:
            continue
    return sound
