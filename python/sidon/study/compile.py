"""From a sound study to the engine's problem, with the way back from its indices to the study."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sidon.event.requests.wishes import alike, wish_costs, wishes
from sidon.study.availability import Tuning, free_ranges, tuning
from sidon.study.coupling import couple
from sidon.study.isolation import Degree
from sidon.study.scans import NOT_PREFERRED, prefers_quiet, quiet_costs
from sidon.study.schema import Incumbent, StudyModel
from sidon.study.spares import with_covers
from sidon.study.windows import on_air

__all__ = ["Compiled", "LinkRow", "compile_study"]

_EPOCH = dt.datetime(1970, 1, 1)


@dataclass(frozen=True)
class LinkRow:
    """One link of the problem, as the study names it.

    Parameters
    ----------
    id, profile, zone : str
        Its names.
    windows : tuple of str
        When it is on the air; empty means always.
    spare : bool
        Whether it is kept in reserve.
    incumbent : bool
        Whether it is a foreign carrier.
    locked_hz : int or None
        The frequency it must keep.
    weight : int
        What leaving it unserved costs.
    preferred : tuple of (int, int)
        Ranges it prefers, in hertz.
    place : str
        Where in the study it stands.
    priority : int
        As asked for.
    shared : bool
        Whether it is a spare for any link of its zone.
    party : str or None
        Who asks for it.
    wanted_hz : int or None
        The frequency it would rather have than any other.
    """

    id: str
    profile: str
    zone: str
    windows: tuple[str, ...]
    spare: bool
    incumbent: bool
    locked_hz: int | None
    weight: int
    preferred: tuple[tuple[int, int], ...]
    place: str
    priority: int = 1
    shared: bool = False
    party: str | None = None
    wanted_hz: int | None = None

    @property
    def lock_place(self) -> str:
        """Where in the study its frequency is fixed."""
        return f"{self.place} ({self.id})" if self.incumbent else f"locks.{self.id}"


@dataclass(frozen=True)
class Compiled:
    """A problem and what its parts are in the study.

    Parameters
    ----------
    problem : dict
        The problem as plain data.
    links : tuple of LinkRow
        Its links, in order.
    tunings : dict of str to Tuning
        Candidates per profile.
    degrees : dict of (str, str) to str
        Coupling of every pair of zones.
    """

    problem: dict[str, Any]
    links: tuple[LinkRow, ...]
    tunings: dict[str, Tuning]
    degrees: dict[tuple[str, str], Degree]

    @property
    def domain_places(self) -> list[str]:
        """Where in the study each domain of the problem comes from, in order."""
        used = {row.profile for row in self.links if not row.incumbent}
        own = [f"profile {name!r}" for name in self.tunings if name in used]
        return own + [row.place for row in self.links if row.incumbent]


def compile_study(model: StudyModel) -> Compiled:
    """Compile a sound study. O(links + candidates).

    Parameters
    ----------
    model : StudyModel
        A study without faults.

    Returns
    -------
    Compiled
        The problem and the way back.

    Notes
    -----
    A required link weighs its priority times one more than all spares together, so that no number
    of spares is ever bought with a required link. Foreign carriers become links locked to a domain
    of their one frequency: they need not lie on a raster or inside the availability.
    """
    model = with_covers(model)
    free = free_ranges(model.availability)
    tunings = {profile.name: tuning(profile, free) for profile in model.profiles}
    degrees = zone_degrees(model)
    links = tuple(_links(model))
    return Compiled(_problem(model, links, tunings, degrees), links, tunings, degrees)


def zone_degrees(model: StudyModel) -> dict[tuple[str, str], Degree]:
    """List how every pair of zones is coupled.

    Parameters
    ----------
    model : StudyModel
        A study without faults.

    Returns
    -------
    dict of (str, str) to str
        The degree of each pair, in the order of the zones.
    """
    return {pair.zones: pair.degree for pair in couple(model)}


def _links(model: StudyModel) -> Iterator[LinkRow]:
    spare_total = sum(row.priority * row.spare_count for row in model.demand)
    spare_total += sum(row.priority * row.count for row in model.spares)
    for index, row in enumerate(model.demand):
        weights = {False: row.priority * (spare_total + 1), True: row.priority}
        names = [(link, False) for link in row.link_ids] + [(link, True) for link in row.spare_ids]
        wanted = dict(zip(row.link_ids, row.wanted, strict=False))
        for link, spare in names:
            yield LinkRow(
                id=link,
                profile=row.profile,
                zone=row.zone,
                windows=tuple(dict.fromkeys(row.windows)),
                spare=spare,
                incumbent=False,
                locked_hz=model.locks.get(link),
                weight=weights[spare],
                preferred=tuple(row.preferred),
                place=f"demand[{index}]",
                priority=row.priority,
                party=row.party,
                wanted_hz=wanted.get(link),
            )
    for index, shared in enumerate(model.spares):
        for link in shared.spare_ids:
            yield LinkRow(
                id=link,
                profile=shared.profile,
                zone=shared.zone,
                windows=tuple(dict.fromkeys(shared.windows)),
                spare=True,
                incumbent=False,
                locked_hz=None,
                weight=shared.priority,
                preferred=tuple(shared.preferred),
                place=f"spares[{index}]",
                priority=shared.priority,
                shared=True,
            )
    for index, incumbent in enumerate(model.incumbents):
        yield _foreign(incumbent, f"incumbents[{index}]", spare_total + 1)


def _foreign(incumbent: Incumbent, place: str, weight: int) -> LinkRow:
    return LinkRow(
        id=incumbent.name,
        profile=incumbent.profile,
        zone=incumbent.zone,
        windows=tuple(dict.fromkeys(incumbent.windows)),
        spare=False,
        incumbent=True,
        locked_hz=incumbent.frequency,
        weight=weight,
        preferred=(),
        place=place,
    )


def _problem(
    model: StudyModel,
    links: tuple[LinkRow, ...],
    tunings: dict[str, Tuning],
    degrees: dict[tuple[str, str], Degree],
) -> dict[str, Any]:
    profiles = {profile.name: index for index, profile in enumerate(model.profiles)}
    zones = {zone.name: index for index, zone in enumerate(model.zones)}
    times = {window.name: on_air(window, model.timezone) for window in model.windows}
    spans = {w: {"start": minutes(start), "end": minutes(end)} for w, (start, end) in times.items()}
    used = {row.profile for row in links if not row.incumbent}
    domains: list[dict[str, Any]] = []
    domain_of: dict[str, int] = {}
    for name, where in tunings.items():
        if name in used:
            domain_of[name] = len(domains)
            domains.append(_raster(where))
    costs: dict[tuple[object, ...], int | None] = {}
    tables: list[list[int]] = []
    wanted_in = wishes(links)
    entries = []
    for row in links:
        entry: dict[str, Any] = {
            "id": row.id,
            "profile": profiles[row.profile],
            "zone": zones[row.zone],
            "windows": [spans[window] for window in row.windows],
            "domain": domain_of.get(row.profile, 0),
            "priority": row.weight,
            "locked_hz": row.locked_hz,
        }
        if row.incumbent:
            entry["domain"] = len(domains)
            domains.append({"frequencies": [row.locked_hz]})
        elif row.preferred or row.wanted_hz is not None or prefers_quiet(model.availability):
            wanted = wanted_in.get(alike(row), frozenset()) if row.wanted_hz is not None else None
            key = (row.profile, row.preferred, wanted)
            if key not in costs:
                candidates = tunings[row.profile].candidates_hz()
                table = wish_costs(candidates, row.preferred, wanted or frozenset())
                width = model.profiles[profiles[row.profile]].bandwidth
                table = _quieter(table, quiet_costs(model.availability, candidates, width))
                costs[key] = len(tables) if table else None
                tables += [table] if table else []
            entry["costs"] = costs[key]
        entries.append(entry)
    return {
        "profiles": [
            {
                "name": profile.name,
                "separation_hz": profile.separation,
                "guards": [{"form": f, "guard_hz": hz} for f, hz in profile.guards.items() if hz],
                "mixes": profile.mixes,
            }
            for profile in model.profiles
        ],
        "zones": list(zones),
        "couplings": [
            {"a": zones[a], "b": zones[b], "degree": degree} for (a, b), degree in degrees.items()
        ],
        "domains": domains,
        "costs": tables,
        "links": entries,
    }


def minutes(moment: dt.datetime) -> int:
    """Count whole minutes of local time since 1970.

    Parameters
    ----------
    moment : datetime
        A local time of whole minutes.

    Returns
    -------
    int
        Minutes.
    """
    return (moment - _EPOCH) // dt.timedelta(minutes=1)


def _raster(where: Tuning) -> dict[str, Any]:
    return {
        "raster": {
            "ranges_hz": [list(span) for span in where.ranges_hz],
            "step_hz": where.step_hz,
            "origin_hz": where.origin_hz,
        }
    }


def _quieter(wishes: list[int], quiet: list[int] | None) -> list[int]:
    """Let scans decide among candidates that are equal by what is wished."""
    if quiet is None:
        return wishes
    wishes = wishes or [0] * len(quiet)
    return [NOT_PREFERRED * wish + noise for wish, noise in zip(wishes, quiet, strict=True)]
