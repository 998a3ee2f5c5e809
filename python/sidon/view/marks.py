"""Colours, marker shapes and shadings of the pictures, and their legend."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TypedDict

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from sidon.plan.document import PlanDocument, SpectrumRecord

__all__ = [
    "COUNT_COLOURS",
    "EDGE_GUARD",
    "EXCLUDED",
    "FOREIGN",
    "GUARD_ALPHA",
    "INK",
    "OCCUPIED",
    "PALETTE",
    "PRODUCTS",
    "break_mark",
    "left_out",
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
PRODUCTS = "#999999"
GUARD_ALPHA = 0.25

# Okabe and Ito (2008), a palette made to be told apart by colour-blind readers; yellow is left out
# because it is lost on white paper.
PALETTE = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "h", "*", "<", ">")


def zone_colours(document: PlanDocument) -> dict[str, str]:
    """Give every zone a colour; rows are labelled as well, so that a repeat does no harm."""
    return {zone: PALETTE[i % len(PALETTE)] for i, zone in enumerate(document.zones)}


def profile_markers(document: PlanDocument) -> dict[str, str]:
    """Give every profile that occurs a marker shape."""
    used = {row.profile for row in document.assignments}
    names = [profile.name for profile in document.profiles if profile.name in used]
    return {name: _MARKERS[i % len(_MARKERS)] for i, name in enumerate(names)}


def legend_entries(
    document: PlanDocument, pieces: Sequence[tuple[int, int]], *, closeup_zone: str | None
) -> Sequence[Artist]:
    """Explain every mark that occurs in the picture of a plan, in the colours it is drawn in.

    A shape occurs in the colour of every zone, so that shapes are explained in white and black.
    """
    entries: list[Artist] = [_shape(n, m) for n, m in profile_markers(document).items()]
    if any(row.spare for row in document.assignments):
        entries.append(_shape("spare (hollow)", "o", hollow=True))
    if document.incumbents:
        entries.append(_shape("foreign carrier", "x"))
    spectrum = document.spectrum
    if spectrum:
        guard = spectrum.edge_guard_hz
        taken = [(row.low_hz, row.high_hz) for row in spectrum.occupied]
        if _any_shown(taken, pieces):
            entries.append(Patch(label="occupied TV channel, with its number", **OCCUPIED))
        if guard and _any_shown([(a - guard, b + guard) for a, b in taken], pieces):
            entries.append(Patch(label="edge guard", **EDGE_GUARD))
        if _any_shown(left_out(spectrum), pieces):
            entries.append(Patch(label="excluded or not available", **EXCLUDED))
    entries.append(Patch(facecolor=PRODUCTS, label="third-order products (density)"))
    if closeup_zone is not None:
        colour = zone_colours(document)[closeup_zone]
        entries += [
            Line2D([], [], color=COUNT_COLOURS[form], linewidth=1.2, label=f"a product {form}")
            for form in COUNT_COLOURS
        ]
        entries.append(
            Patch(
                facecolor=to_rgba(colour, GUARD_ALPHA),
                edgecolor=colour,
                linewidth=0.8,
                label="guard: no product inside, its edge is allowed",
            )
        )
    return entries


def left_out(spectrum: SpectrumRecord) -> list[tuple[int, int]]:
    """List what is excluded, and what lies between two ranges."""
    ranges = sorted(spectrum.ranges_hz)
    excluded = [(row.low_hz, row.high_hz) for row in spectrum.exclusions]
    return excluded + [(a[1], b[0]) for a, b in pairwise(ranges) if a[1] < b[0]]


def _any_shown(spans: Sequence[tuple[int, int]], pieces: Sequence[tuple[int, int]]) -> bool:
    return any(a < high and b > low for a, b in spans for low, high in pieces)


def break_mark(axes: Axes, side: int) -> None:
    """Draw two strokes across the axis, where it is interrupted.

    Parameters
    ----------
    axes : Axes
        A part of the axis.
    side : int
        0 for its left end, 1 for its right.
    """
    axes.plot(
        [side],
        [0],
        transform=axes.transAxes,
        marker=[(-0.5, -1), (0.5, 1)],
        markersize=9,
        linestyle="none",
        color=INK,
        markeredgecolor=INK,
        markeredgewidth=1,
        clip_on=False,
        zorder=5,
    )


def _shape(label: str, marker: str, *, hollow: bool = False) -> Line2D:
    return Line2D(
        [],
        [],
        color=INK,
        marker=marker,
        markerfacecolor="white" if hollow else INK,
        markersize=5,
        linestyle="none",
        label=label,
    )
