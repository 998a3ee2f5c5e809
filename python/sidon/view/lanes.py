"""The lanes of a picture: one per zone, and within it one per time on the air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier, carriers

__all__ = ["DENSITY", "Lane", "Zone", "height", "zones"]

DENSITY = 0.6
"""Height of the density of products below the lanes of a zone, in lanes."""


@dataclass(frozen=True)
class Lane:
    """Carriers of one zone that are on the air at the same times.

    Parameters
    ----------
    label : str
        The windows, or "always"; "" when the zone has one lane only.
    top : float
        Its upper edge, in lanes from the top of the picture; it is one lane high.
    carriers : tuple of Carrier
        Who stands in it.
    """

    label: str
    top: float
    carriers: tuple[Carrier, ...]


@dataclass(frozen=True)
class Zone:
    """The lanes of one zone, with the density of products below them.

    Parameters
    ----------
    name : str
        The zone.
    lanes : tuple of Lane
        From the top down.
    floor : float
        The lower edge of all, where the density stands.
    """

    name: str
    lanes: tuple[Lane, ...]
    floor: float

    @property
    def middle(self) -> float:
        """Where its name is written."""
        return (self.lanes[0].top + self.floor) / 2


def zones(
    document: PlanDocument,
    band: Sequence[tuple[int, int]] | None = None,
    *,
    by_time: bool = True,
) -> list[Zone]:
    """Lay out the lanes of a plan.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    band : sequence of (int, int), optional
        Only what stands here, in hertz: zones and times without a carrier there have no lane.
    by_time : bool, default True
        A lane for each time on the air; else one for each zone.

    Returns
    -------
    list of Zone
        From the top down; carriers of different windows are in different lanes.
    """
    order = [window.name for window in document.windows]
    everyone = carriers(document)
    if band is not None:
        everyone = [c for c in everyone if any(a <= c.frequency_hz <= b for a, b in band)]
    several = {
        name: len({frozenset(c.windows) for c in carriers(document) if c.zone == name}) > 1
        for name in document.zones
    }
    top, found = 0.0, []
    for name in document.zones:
        here = [carrier for carrier in everyone if carrier.zone == name]
        if not here and band is not None and everyone:
            continue
        if not by_time:
            found.append(Zone(name, (Lane("", top, tuple(here)),), top + 1 + DENSITY))
            top += 1.25 + DENSITY
            continue
        times = sorted({tuple(sorted(c.windows, key=order.index)) for c in here} or {()})
        times.sort(key=lambda windows: [order.index(window) for window in windows])
        lanes = []
        for windows in times:
            label = " + ".join(windows) or "always"
            inside = tuple(c for c in here if set(c.windows) == set(windows))
            lanes.append(Lane(label if several[name] or windows else "", top, inside))
            top += 1
        top += DENSITY
        found.append(Zone(name, tuple(lanes), top))
        top += 0.25
    return found


def height(layout: list[Zone]) -> float:
    """Return the height of all lanes together, in lanes."""
    return layout[-1].floor if layout else 1.0
