"""Who shares the air: zones within which products reach, and instants at which carriers are on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier

__all__ = ["air_groups", "fully_coupled", "instants", "on_air"]


def fully_coupled(document: PlanDocument) -> set[frozenset[str]]:
    """List the sets of one or two zones within which products reach.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    set of frozenset of str
        Every zone by itself, and every fully coupled pair.
    """
    pairs = {frozenset(c.zones) for c in document.couplings if c.degree == "full"}
    return pairs | {frozenset({zone}) for zone in document.zones}


def instants(carriers: Sequence[Carrier]) -> list[int]:
    """List instants such that carriers ever on the air together are so at one of them.

    Parameters
    ----------
    carriers : sequence of Carrier
        All carriers.

    Returns
    -------
    list of int
        The starts of all windows, in minutes, ascending; one instant when there are none.

    Notes
    -----
    Half-open windows that have an instant in common have the latest of their starts in common.
    """
    return sorted({start for carrier in carriers for start, _ in carrier.spans}) or [0]


def on_air(carrier: Carrier, instant: int) -> bool:
    """Tell whether a carrier is on the air at an instant.

    Parameters
    ----------
    carrier : Carrier
        The carrier.
    instant : int
        In minutes.

    Returns
    -------
    bool
        True within any of its windows, or always when it has none.
    """
    return not carrier.spans or any(start <= instant < end for start, end in carrier.spans)


def air_groups(document: PlanDocument, carriers: Sequence[Carrier]) -> Iterator[list[int]]:
    """List the groups of carriers within which products form and hit.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    carriers : sequence of Carrier
        Its carriers.

    Yields
    ------
    list of int
        Indices of carriers that are in pairwise fully coupled zones and on the air at one instant;
        every set of carriers of that kind lies within at least one group.
    """
    reach = fully_coupled(document)
    beside = {
        zone: {other for other in document.zones if other != zone and {zone, other} in reach}
        for zone in document.zones
    }
    seen = set()
    for zones in _cliques(set(), set(document.zones), set(), beside):
        for instant in instants(carriers):
            group = tuple(
                index
                for index, carrier in enumerate(carriers)
                if carrier.zone in zones and on_air(carrier, instant)
            )
            if group and group not in seen:
                seen.add(group)
                yield list(group)


def _cliques(
    chosen: set[str], open_: set[str], done: set[str], beside: dict[str, set[str]]
) -> Iterator[set[str]]:
    """Maximal sets of pairwise coupled zones (Bron and Kerbosch, 1973, with a pivot)."""
    if not open_ and not done:
        yield chosen
        return
    pivot = max(sorted(open_ | done), key=lambda zone: len(beside[zone] & open_))
    for zone in sorted(open_ - beside[pivot]):
        yield from _cliques(chosen | {zone}, open_ & beside[zone], done & beside[zone], beside)
        open_ = open_ - {zone}
        done = done | {zone}
