"""What can be read of a study that may still hold faults, so that all of them are found at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import TypeAdapter, ValidationError

from sidon._faults import schema_faults
from sidon._quantity import Carrier
from sidon._schema import Part
from sidon.exceptions import Fault
from sidon.study.ask import CapacityAsk
from sidon.study.schema import (
    Availability,
    Coupling,
    Demand,
    EquipmentClass,
    Incumbent,
    Profile,
    QuestionModel,
    SharedSpares,
    StudyModel,
    TvRaster,
    Window,
    Zone,
)

__all__ = ["Draft", "read"]


@dataclass
class Draft:
    """The readable parts of a study, by their index in the file.

    Parameters
    ----------
    availability : Part of Availability
        Where carriers may stand.
    tv_raster : Part of TvRaster
        How its channels are numbered.
    profiles, zones, couplings, windows, demand, incumbents : dict of int to Part
        The rows of each list, each read field by field.
    locks : dict of str to int
        The sound locks.
    timezone : str or None
        Where the local times are.
    isolated : bool
        Whether isolation is computed from the positions of zones.
    names : dict of str to list of str
        All names written in the lists of profiles, zones and windows, sound or not.
    capacity : Part of CapacityAsk
        How many are wanted.
    classes : dict of int to Part
        The study's own classes of equipment.
    lost : bool
        Whether some lock, or a list as a whole, cannot be read.
    """

    availability: Part[Availability]
    tv_raster: Part[TvRaster]
    profiles: dict[int, Part[Profile]] = field(default_factory=dict)
    zones: dict[int, Part[Zone]] = field(default_factory=dict)
    couplings: dict[int, Part[Coupling]] = field(default_factory=dict)
    windows: dict[int, Part[Window]] = field(default_factory=dict)
    demand: dict[int, Part[Demand]] = field(default_factory=dict)
    incumbents: dict[int, Part[Incumbent]] = field(default_factory=dict)
    spares: dict[int, Part[SharedSpares]] = field(default_factory=dict)
    capacity: Part[CapacityAsk] = field(default_factory=lambda: Part(CapacityAsk, None))
    classes: dict[int, Part[EquipmentClass]] = field(default_factory=dict)
    locks: dict[str, int] = field(default_factory=dict)
    timezone: str | None = None
    isolated: bool = False
    names: dict[str, list[str]] = field(default_factory=dict)
    lost: bool = False

    def profile(self, name: str | None) -> Part[Profile] | None:
        """Return the first profile of this name."""
        return next((p for p in self.profiles.values() if name and p.get("name") == name), None)

    @property
    def unjudged(self) -> bool:
        """Whether some rule cannot be judged before what is wrong with the study is mended.

        Carriers that are fixed are compared with each other last, in a study without faults.
        """
        tables = (self.profiles, self.zones, self.couplings, self.windows, self.demand)
        rows = [row for table in (*tables, self.incumbents, self.spares) for row in table.values()]
        fixed = len(self.locks) + len(self.incumbents)
        whole = self.availability.whole is not None and all(row.whole is not None for row in rows)
        return self.lost or not whole or fixed > 1


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
        What can be read of it.
    faults : list of Fault
        Every complaint of the schema.
    """
    if not isinstance(mapping, Mapping):
        what = f"a {type(mapping).__name__} is not a table"
        fault = Fault("study", what, "give a mapping of keys and values")
        return None, _drafted({}), [fault]
    shape = QuestionModel if _only_asks(mapping) else StudyModel
    try:
        return shape.model_validate(mapping), _drafted(mapping), []
    except ValidationError as error:
        return None, _drafted(mapping), schema_faults(error, shape)


def _only_asks(mapping: Mapping[str, Any]) -> bool:
    """Whether a study says how many are wanted, and not by whom."""
    ask = mapping.get("capacity")
    return (
        not mapping.get("demand")
        and isinstance(ask, Mapping)
        and any(ask.get(key) is not None for key in ("ask", "in_ears"))
    )


def _drafted(mapping: Mapping[str, Any]) -> Draft:
    study = Part(StudyModel, mapping)
    zones = mapping.get("zones")
    if isinstance(zones, list):
        zones = [{"name": zone} if isinstance(zone, str) else zone for zone in zones]
    locks = mapping.get("locks", {})
    sound = _sound_locks(locks)
    lists = ("profiles", "zones", "windows", "couplings", "demand", "incumbents", "spares")
    needed = set() if _only_asks(mapping) else {"profiles", "zones", "demand"}
    availability = study.part("availability", Availability)
    return Draft(
        availability=availability,
        tv_raster=availability.part("tv_raster", TvRaster),
        profiles=study.rows("profiles", Profile),
        zones=Part(StudyModel, {"zones": zones}).rows("zones", Zone),
        couplings=study.rows("couplings", Coupling),
        windows=study.rows("windows", Window),
        demand=study.rows("demand", Demand),
        incumbents=study.rows("incumbents", Incumbent),
        spares=study.rows("spares", SharedSpares),
        capacity=study.part("capacity", CapacityAsk),
        classes=study.rows("classes", EquipmentClass),
        locks=sound,
        timezone=study.get("timezone"),
        isolated=study.has("isolation"),
        names={key: _names(mapping.get(key)) for key in ("profiles", "zones", "windows")},
        lost=not isinstance(locks, Mapping)
        or len(sound) < len(locks)
        or any(
            not isinstance(mapping.get(key), list) and (key in mapping or key in needed)
            for key in lists
        ),
    )


def _names(section: object) -> list[str]:
    if not isinstance(section, list):
        return []
    entries = [entry.get("name") if isinstance(entry, Mapping) else entry for entry in section]
    return [entry.strip() for entry in entries if isinstance(entry, str)]


def _sound_locks(section: object) -> dict[str, int]:
    adapter = TypeAdapter(dict[str, Carrier])
    sound: dict[str, int] = {}
    for link, frequency in section.items() if isinstance(section, Mapping) else ():
        try:
            sound.update(adapter.validate_python({link: frequency}))
        except ValidationError:
            continue
    return sound
