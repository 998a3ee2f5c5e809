"""Pictures: of a plan, its zones, its use over time and its reuse; of places, scans, capacity."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from sidon.view.reuse import reuse
from sidon.view.spectrum import spectrum
from sidon.view.timeline import timeline
from sidon.view.zone_map import zone_map

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sidon.plan import Plan

__all__ = ["PICTURES", "reuse", "spectrum", "timeline", "zone_map"]

PICTURES: dict[str, Callable[[Plan], Figure]] = {
    "spectrum": spectrum,
    "zones": zone_map,
    "timeline": timeline,
    "reuse": reuse,
}
"""Each kind of picture of a plan, and what draws it."""
