"""How every pair of zones is coupled, and on what grounds."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from sidon.study.isolation import Degree, Isolation, Link, distance_m

if TYPE_CHECKING:
    from sidon.study.schema import Coupling, StudyModel, Zone

__all__ = ["Coupled", "couple", "lowest_hz"]


@dataclass(frozen=True)
class Coupled:
    """How two zones share the air.

    Parameters
    ----------
    zones : (str, str)
        Their names.
    degree : str
        The degree.
    isolation_db : float or None
        The isolation it follows from, or that is known beside a degree that is given.
    basis : str
        On what grounds.
    """

    zones: tuple[str, str]
    degree: Degree
    isolation_db: float | None
    basis: str


def lowest_hz(model: StudyModel) -> int:
    """Return the lowest available frequency, which is lost least on its way."""
    return min(low for low, _ in model.availability.ranges)


def couple(model: StudyModel) -> list[Coupled]:
    """Find how every pair of zones is coupled. O(zones^2).

    Parameters
    ----------
    model : StudyModel
        A study without faults.

    Returns
    -------
    list of Coupled
        Every pair, in the order of the zones. A degree that is given wins, then an isolation that
        is given, then a distance that is given, then one from positions where the study has an
        ``isolation`` table, then ``default_coupling``.
    """
    listed = {frozenset(c.zones): c for c in model.couplings}
    pairs = combinations(model.zones, 2)
    return [_pair(a, b, listed.get(frozenset((a.name, b.name))), model) for a, b in pairs]


def _pair(a: Zone, b: Zone, given: Coupling | None, model: StudyModel) -> Coupled:
    rules, zones = model.isolation or Isolation(), (a.name, b.name)
    isolation, basis = _isolation(a, b, given, model)
    if given is not None and given.degree is not None:
        return Coupled(zones, given.degree, isolation, "degree given")
    if isolation is not None:
        return Coupled(zones, rules.degree(isolation), isolation, basis)
    return Coupled(zones, model.default_coupling, None, "default_coupling")


def _isolation(
    a: Zone, b: Zone, given: Coupling | None, model: StudyModel
) -> tuple[float | None, str]:
    if given is not None and given.isolation_db is not None:
        return given.isolation_db, "isolation given"
    walls = given.walls if given is not None else 0
    if given is not None and given.distance_m is not None:
        metres = given.distance_m
    elif model.isolation is not None and a.position_m is not None and b.position_m is not None:
        metres = distance_m(a.position_m, b.position_m, radius_a=a.radius_m, radius_b=b.radius_m)
    else:
        return None, ""
    rules = model.isolation or Isolation()
    through = f", {walls} wall{'' if walls == 1 else 's'}" if walls else ""
    return rules.isolation_db(Link(metres, walls), lowest_hz(model)), (
        f"computed: {metres:.0f} m{through}"
    )
