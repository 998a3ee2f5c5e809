"""What the pictures of zones share: axes broken where nothing is, colours of profiles, titles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.gridspec import SubplotSpec

from sidon.plan.document import PlanDocument
from sidon.view.marks import PALETTE, break_mark

__all__ = [
    "OTHER",
    "SHADES",
    "Group",
    "broken_axes",
    "broken_axis",
    "groups",
    "heading",
    "shortened",
]

OTHER = "#777777"
# One hue that darkens evenly, so that counts are read without colour as well; its lightest and
# darkest ends are left out, so that few is not lost on paper and numbers can be read on many.
SHADES = ListedColormap(matplotlib.colormaps["Blues"](np.linspace(0.1, 0.85, 256)))
_LEAST_SHARE = 0.08
_LONGEST = 26


@dataclass(frozen=True)
class Group:
    """Profiles that are drawn alike.

    Parameters
    ----------
    label : str
        Their name.
    colour : str
        Their colour.
    profiles : tuple of str
        Who they are.
    """

    label: str
    colour: str
    profiles: tuple[str, ...]


def groups(document: PlanDocument) -> list[Group]:
    """Give profiles colours that are told apart by colour-blind readers.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of Group
        In the order of the plan; where there are more profiles than colours, those with the
        fewest links share a grey.
    """
    counts = Counter(row.profile for row in document.assignments)
    used = [profile.name for profile in document.profiles if counts[profile.name]]
    shown = used
    if len(used) > len(PALETTE):
        most = sorted(used, key=lambda name: -counts[name])[: len(PALETTE)]
        shown = [name for name in used if name in most]
    found = [
        Group(shortened(name), colour, (name,))
        for name, colour in zip(shown, PALETTE, strict=False)
    ]
    rest = tuple(name for name in used if name not in shown)
    if rest:
        found.append(Group(f"other ({len(rest)} profiles)", OTHER, rest))
    return found


def shortened(name: str, longest: int = _LONGEST) -> str:
    """Cut a name that would not fit beside a row."""
    return name if len(name) <= longest else name[: longest - 1] + "\u2026"


def broken_axis(
    figure: Figure, spec: SubplotSpec, pieces: Sequence[tuple[float, float]]
) -> list[Axes]:
    """Make an axis in pieces, as wide as what they show, with marks where it is broken.

    Parameters
    ----------
    figure : Figure
        Where.
    spec : SubplotSpec
        The place for all pieces together.
    pieces : sequence of (float, float)
        Limits of each.

    Returns
    -------
    list of Axes
        One for each piece, limits set; only the first has a vertical axis.
    """
    return broken_axes(figure, spec, pieces, [1])[0]


def broken_axes(
    figure: Figure,
    spec: SubplotSpec,
    pieces: Sequence[tuple[float, float]],
    heights: Sequence[float],
) -> list[list[Axes]]:
    """Make several such axes below each other, their pieces in line.

    Parameters
    ----------
    figure, spec, pieces
        As for `broken_axis`.
    heights : sequence of float
        How high each is, in proportion.

    Returns
    -------
    list of list of Axes
        From the top down.
    """
    whole = sum(high - low for low, high in pieces)
    widths = [max(high - low, whole * _LEAST_SHARE) for low, high in pieces]
    shape = len(heights), len(pieces)
    inner = spec.subgridspec(*shape, width_ratios=widths, height_ratios=heights, wspace=0.03)
    found: list[list[Axes]] = []
    for row in range(len(heights)):
        parts: list[Axes] = []
        for index, (low, high) in enumerate(pieces):
            axes = figure.add_subplot(inner[row, index], sharey=parts[0] if parts else None)
            axes.set_xlim(low, high)
            axes.tick_params(labelsize=8, labelleft=index == 0, left=index == 0)
            for side in ("top", "right", *(("left",) if index else ())):
                axes.spines[side].set_visible(False)
            if index:
                break_mark(parts[-1], 1)
                break_mark(axes, 0)
            parts.append(axes)
        found.append(parts)
    return found


def heading(document: PlanDocument, subject: str) -> str:
    """Write the title of a picture."""
    place = f", {document.place.name}" if document.place else ""
    return f"{document.study or 'Plan'}{place}: {subject}"
