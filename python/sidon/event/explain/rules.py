"""The rules of a compiled study that can be left out one by one, and the problem without them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import sidon
    from sidon.study.compile import Compiled

__all__ = ["Rule", "kilohertz", "part", "rules_of"]


@dataclass(frozen=True, slots=True, order=True)
class Rule:
    """One rule that links must keep.

    Parameters
    ----------
    kind : {"separation", "product", "coupling"}
        Distance of carriers, distance of one product form, or that two zones share the air.
    names : tuple of str
        The profile, or the two zones.
    form : str
        The product form; empty for other kinds.
    distance_hz : int
        The distance it asks for; 0 for a coupling.
    """

    kind: str
    names: tuple[str, ...]
    form: str = ""
    distance_hz: int = 0

    @property
    def text(self) -> str:
        """The rule in words."""
        if self.kind == "coupling":
            return f"{self.names[0]} and {self.names[1]} share the air"
        distance = kilohertz(self.distance_hz)
        if self.kind == "separation":
            return f"separation of {self.names[0]}: {distance}"
        return f"guard of {self.names[0]} on {self.form}: {distance}"


def kilohertz(hz: int) -> str:
    """Write a distance in kilohertz, exactly.

    Parameters
    ----------
    hz : int
        The distance in hertz.

    Returns
    -------
    str
        Such as "62.5 kHz".
    """
    return f"{Decimal(hz).scaleb(-3).normalize():f} kHz"


def rules_of(compiled: Compiled, links: Iterable[int]) -> list[Rule]:
    """List the rules that concern some links.

    Parameters
    ----------
    compiled : Compiled
        The compiled study.
    links : iterable of int
        Indices of its links.

    Returns
    -------
    list of Rule
        Products of high order first, then couplings, then separations: the order in which they are
        tried for leaving out, dearest last.
    """
    rows = [compiled.links[index] for index in links]
    profiles = {row.profile for row in rows}
    zones = {row.zone for row in rows}
    found: list[Rule] = []
    for profile in compiled.problem["profiles"]:
        if profile["name"] not in profiles:
            continue
        name = (profile["name"],)
        found += [
            Rule("product", name, guard["form"], guard["guard_hz"]) for guard in profile["guards"]
        ]
        found.append(Rule("separation", name, distance_hz=profile["separation_hz"]))
    found += [
        Rule("coupling", pair)
        for pair, degree in compiled.degrees.items()
        if degree != "none" and zones.issuperset(pair)
    ]
    order = {"product": 0, "coupling": 1, "separation": 2}
    return sorted(found, key=lambda rule: (order[rule.kind], -len(rule.form), rule))


def part(compiled: Compiled, links: Sequence[int], without: Iterable[Rule] = ()) -> sidon.Problem:
    """Make the problem of some links alone, every link equally heavy, without some rules.

    Parameters
    ----------
    compiled : Compiled
        The compiled study.
    links : sequence of int
        Indices of the links to keep.
    without : iterable of Rule
        Rules to leave out.

    Returns
    -------
    sidon.Problem
        Its links in the order given.
    """
    import sidon

    dropped = set(without)
    whole = compiled.problem
    zones: list[str] = whole["zones"]
    entries = [{**whole["links"][index], "priority": 1} for index in links]
    used = sorted({entry["domain"] for entry in entries})
    place = {domain: index for index, domain in enumerate(used)}
    for entry in entries:
        entry["domain"] = place[entry["domain"]]
        entry.pop("costs", None)
    return sidon.Problem.from_dict(
        {
            **whole,
            "profiles": [_without(profile, dropped) for profile in whole["profiles"]],
            "couplings": [
                coupling
                for coupling in whole["couplings"]
                if Rule("coupling", (zones[coupling["a"]], zones[coupling["b"]])) not in dropped
            ],
            "domains": [whole["domains"][domain] for domain in used],
            "costs": [],
            "links": entries,
        }
    )


def _without(profile: dict[str, Any], dropped: set[Rule]) -> dict[str, Any]:
    name = (profile["name"],)
    apart = Rule("separation", name, distance_hz=profile["separation_hz"])
    return {
        **profile,
        "separation_hz": 0 if apart in dropped else profile["separation_hz"],
        "guards": [
            guard
            for guard in profile["guards"]
            if Rule("product", name, guard["form"], guard["guard_hz"]) not in dropped
        ],
    }
