"""Colours, marker shapes and shadings of the picture, and their legend."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypedDict

from matplotlib.artist import Artist
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from sidon.plan.document import PlanDocument

__all__ = [
    "COUNT_COLOURS",
    "EDGE_GUARD",
    "EXCLUDED",
    "FOREIGN",
    "INK",
    "OCCUPIED",
    "legend_entries",
    "profile_markers",
    "zone_colours",
]


class Shading(TypedDict):
    """How a piece of spectrum is shaded."""

    facecolor: str
    edgecolor: str
    linewidth: float
    hatch: str | None


INK = "#222222"
FOREIGN = "#222222"
OCCUPIED: Shading = {"facecolor": "#c9c9c9", "edgecolor": "none", "linewidth": 0, "hatch": None}
EDGE_GUARD: Shading = {"facecolor": "#e9e9e9", "edgecolor": "none", "linewidth": 0, "hatch": None}
EXCLUDED: Shading = {"facecolor": "none", "edgecolor": "#8a8a8a", "hatch": "////", "linewidth": 0}
COUNT_COLOURS = {"2A-B": "#5a5a5a", "A+B-C": "#a3a3a3"}

# Okabe and Ito (2008), a palette made to be told apart by colour-blind readers; yellow is left out
# because it is lost on white paper.
_PALETTE = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "h", "*", "<", ">")


def zone_colours(document: PlanDocument) -> dict[str, str]:
    """Give every zone a colour; rows are labelled as well, so that a repeat does no harm."""
    return {zone: _PALETTE[i % len(_PALETTE)] for i, zone in enumerate(document.zones)}


def profile_markers(document: PlanDocument) -> dict[str, str]:
    """Give every profile that occurs a marker shape."""
    used = {row.profile for row in document.assignments}
    names = [profile.name for profile in document.profiles if profile.name in used]
    return {name: _MARKERS[i % len(_MARKERS)] for i, name in enumerate(names)}


def legend_entries(document: PlanDocument) -> Sequence[Artist]:
    """Explain every mark that occurs in the picture of a plan."""

    def mark(label: str, marker: str, *, hollow: bool = False) -> Line2D:
        face = "white" if hollow else INK
        return Line2D(
            [],
            [],
            color=INK,
            marker=marker,
            markerfacecolor=face,
            markersize=5,
            linestyle="none",
            label=label,
        )

    entries: list[Artist] = [mark(n, m) for n, m in profile_markers(document).items()]
    if any(row.spare for row in document.assignments):
        entries.append(mark("spare (hollow)", "o", hollow=True))
    if document.incumbents:
        entries.append(mark("foreign carrier", "x"))
    spectrum = document.spectrum
    if spectrum and spectrum.occupied:
        entries.append(Patch(label="occupied TV channel, with its number", **OCCUPIED))
        if spectrum.edge_guard_hz:
            entries.append(Patch(label="edge guard", **EDGE_GUARD))
    if spectrum and (spectrum.exclusions or len(spectrum.ranges_hz) > 1):
        entries.append(Patch(label="excluded or not available", **EXCLUDED))
    entries.append(Patch(facecolor=COUNT_COLOURS["A+B-C"], label="third-order products (density)"))
    return entries
