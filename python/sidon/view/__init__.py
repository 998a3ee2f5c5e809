"""Pictures: of a plan, its zones, its use over time and its reuse; of places, scans, capacity."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from sidon.view import reuse, timeline, zone_map
from sidon.view.spectrum import save, spectrum

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["PICTURES", "save", "spectrum"]

PICTURES: dict[str, Callable[["Plan", Path], None]] = {
    "spectrum": save,
    "zones": zone_map.save,
    "timeline": timeline.save,
    "reuse": reuse.save,
}
"""Each kind of picture, and what draws it into a file."""
