"""From a plan document alone back to a problem, for the independent check and for its products."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from sidon.plan.document import AssignmentRecord, IncumbentRecord, PlanDocument

__all__ = ["Carrier", "carriers", "problem_fields"]

_EPOCH = dt.datetime(1970, 1, 1)


@dataclass(frozen=True)
class Carrier:
    """One carrier of a plan: an assignment, or a foreign one it keeps clear of.

    Parameters
    ----------
    name, zone, profile : str
        Its names.
    frequency_hz : int
        Where it stands.
    spans : tuple of (int, int)
        When it is on the air, in minutes, half open; empty means always.
    windows : tuple of str
        The names of those.
    spare, foreign, locked : bool
        What it is.
    """

    name: str
    zone: str
    profile: str
    frequency_hz: int
    spans: tuple[tuple[int, int], ...]
    windows: tuple[str, ...]
    spare: bool
    foreign: bool
    locked: bool


def carriers(document: PlanDocument) -> list[Carrier]:
    """List the carriers of a plan, assignments first.

    Parameters
    ----------
    document : PlanDocument
        A plan without faults.

    Returns
    -------
    list of Carrier
        In the order of the document.
    """
    spans = {w.name: (_minutes(w.start), _minutes(w.end)) for w in document.windows}

    def carrier(
        row: AssignmentRecord | IncumbentRecord, *, name: str, spare: bool, locked: bool
    ) -> Carrier:
        return Carrier(
            name=name,
            zone=row.zone,
            profile=row.profile,
            frequency_hz=row.frequency_hz,
            spans=tuple(spans[window] for window in row.windows),
            windows=tuple(row.windows),
            spare=spare,
            foreign=isinstance(row, IncumbentRecord),
            locked=locked,
        )

    own = [
        carrier(row, name=row.link, spare=row.spare, locked=row.locked)
        for row in document.assignments
    ]
    return own + [
        carrier(row, name=row.name, spare=False, locked=True) for row in document.incumbents
    ]


def _minutes(moment: dt.datetime) -> int:
    return (moment - _EPOCH) // dt.timedelta(minutes=1)


def problem_fields(document: PlanDocument) -> dict[str, Any]:
    """Rebuild the problem from a plan document alone.

    Parameters
    ----------
    document : PlanDocument
        A plan without faults.

    Returns
    -------
    dict
        The fields of a `sidon.Problem` whose links are the carriers of the plan, in order.
    """
    profiles = {profile.name: index for index, profile in enumerate(document.profiles)}
    zones = {name: index for index, name in enumerate(document.zones)}
    domains: list[dict[str, Any]] = [
        {
            "raster": {
                "ranges_hz": document.availability.get(profile.name, []),
                "step_hz": profile.raster_hz,
                "origin_hz": profile.raster_origin_hz,
            }
        }
        for profile in document.profiles
    ]
    kept = sorted({index for name, index in profiles.items() if _is_used(name, document)})
    domains = [domains[index] for index in kept]
    domain_of = {index: position for position, index in enumerate(kept)}
    links = []
    for carrier in carriers(document):
        profile = profiles[carrier.profile]
        link: dict[str, Any] = {
            "id": carrier.name,
            "profile": profile,
            "zone": zones[carrier.zone],
            "windows": [{"start": start, "end": end} for start, end in carrier.spans],
            "domain": domain_of.get(profile, 0),
        }
        if carrier.foreign:
            link["domain"] = len(domains)
            domains.append({"frequencies": [carrier.frequency_hz]})
        links.append(link)
    return {
        "profiles": [
            {
                "name": profile.name,
                "separation_hz": profile.separation_hz,
                "guards": [
                    {"form": form, "guard_hz": hz} for form, hz in profile.guards_hz.items() if hz
                ],
                "mixes": profile.mixes,
            }
            for profile in document.profiles
        ],
        "zones": document.zones,
        "couplings": [
            {"a": zones[c.zones[0]], "b": zones[c.zones[1]], "degree": c.degree}
            for c in document.couplings
        ],
        "domains": domains,
        "links": links,
    }


def _is_used(profile: str, document: PlanDocument) -> bool:
    return any(row.profile == profile for row in document.assignments)
