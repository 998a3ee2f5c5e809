"""Reuse of spectrum: how many zones stand on each part of it, and which pairs share how much."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sidon.plan.document import PlanDocument
from sidon.plan.recount import carriers
from sidon.view.bands import left_out_text, rows
from sidon.view.marks import INK, PALETTE
from sidon.view.spectrum import shade
from sidon.view.strips import SHADES, broken_axis, heading, shortened

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["reuse", "shared"]

Depths = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]

_BIN_HZ = 25_000
_LEAST_CELL_IN = 0.24
_MOST_ZONES_LABELLED = 60


def shared(document: PlanDocument) -> NDArray[np.int64]:
    """Count, for each pair of zones, the links that stand on spectrum used in the other too.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    numpy.ndarray
        Zones by zones, in the order of the plan: links of the row's zone nearer to some link of
        the column's zone than the separation between them, which zones and times that share no
        air allow; in the diagonal, to some other link of the same zone.

    Notes
    -----
    O(n^2) in the links.
    """
    own = [carrier for carrier in carriers(document) if not carrier.foreign]
    size = {profile.name: profile.separation_hz for profile in document.profiles}
    hertz = np.array([c.frequency_hz for c in own], dtype=np.int64)
    widths = np.array([size[c.profile] for c in own], dtype=np.int64)
    seat = {name: index for index, name in enumerate(document.zones)}
    zone = np.array([seat[c.zone] for c in own], dtype=np.int64)
    counts = np.zeros((len(seat), len(seat)), dtype=np.int64)
    for index in range(len(own)):
        # Equal frequencies are one place, even for equipment that needs no distance.
        near = np.abs(hertz - hertz[index]) < np.maximum(np.maximum(widths, widths[index]), 1)
        near[index] = False
        counts[zone[index], np.unique(zone[near])] += 1
    return counts


def reuse(plan: Plan) -> Figure:
    """Draw where spectrum is used again.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    matplotlib.figure.Figure
        Above, over frequency, how many zones and how many links stand within their separation;
        below, for each pair of zones, how many links of the row stand on spectrum used in the
        column too, with the degree in which the pair is coordinated.
    """
    document = plan.document
    bands, zones = rows(document), document.zones
    counts = shared(document)
    cell_in = min(0.5, max(0.16, 6.5 / max(1, len(zones))))
    side = max(3.0, 1.2 + cell_in * len(zones))
    heights = [1.5] * len(bands) + [side]
    figure = Figure(figsize=(11.7, 1.3 + sum(heights)), dpi=150, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(len(heights), 1, height_ratios=heights)
    depths = [[_depths(document, span) for span in band] for band in bands]
    most = max((int(links.max(initial=0)) for band in depths for _, _, links in band), default=0)
    for index, band in enumerate(bands):
        parts = broken_axis(figure, grid[index], [(a / 1e6, b / 1e6) for a, b in band])
        whole = sum(high - low for low, high in band)
        for part, (low, high), (edges, in_zones, in_links) in zip(
            parts, band, depths[index], strict=True
        ):
            shade(part, document, low, high)
            part.stairs(in_links, edges / 1e6, fill=True, color=PALETTE[5], linewidth=0, zorder=2)
            part.stairs(
                in_zones, edges / 1e6, color=PALETTE[0], linewidth=0.8, baseline=None, zorder=3
            )
            part.xaxis.set_major_locator(MaxNLocator(max(2, round(12 * (high - low) / whole))))
        parts[0].set_ylim(0, most * 1.05 + 0.5)
        parts[0].yaxis.set_major_locator(MaxNLocator(4, integer=True))
        parts[0].set_ylabel("uses", fontsize=9)
        if index == len(bands) - 1:
            rest = left_out_text(document, bands)
            label = f"frequency (MHz); {rest}" if rest else "frequency (MHz)"
            parts[0].set_xlabel(label, loc="left", fontsize=9)
    matrix_in = 2.2 + cell_in * len(zones)
    below = grid[-1].subgridspec(1, 2, width_ratios=[matrix_in, max(3.0, 11 - matrix_in)])
    _draw_matrix(figure, figure.add_subplot(below[0]), document, counts, cell_in)
    _draw_amounts(figure.add_subplot(below[1]), [piece for band in depths for piece in band])
    figure.suptitle(heading(document, _subject(document)), fontsize=12, color=INK)
    figure.legend(handles=_legend(), loc="outside lower center", ncols=2, fontsize=8, frameon=False)
    return figure


def _subject(document: PlanDocument) -> str:
    hertz = [row.frequency_hz for row in document.assignments]
    different = len(set(hertz))
    if not hertz:
        return "no link on the air"
    each = len(hertz) / different
    return f"{len(hertz)} links on {different} frequencies, {each:.2f} links on each"


def _legend() -> list[Artist]:
    def letter(sign: str, label: str) -> Line2D:
        return Line2D([], [], color=INK, marker=f"${sign}$", linestyle="none", label=label)

    return [
        Patch(facecolor=PALETTE[5], label="links within their separation, at any time"),
        Line2D([], [], color=PALETTE[0], label="zones they stand in"),
        letter("F", "pair coordinated in full: used again only at other times"),
        letter("S", "separation only: likewise; no letter: used again at any time"),
    ]


def _depths(document: PlanDocument, span: tuple[int, int]) -> Depths:
    """Bin edges, and how many zones and links take each bin with half their separation."""
    low, high = span
    edges = np.arange(low, high + _BIN_HZ, _BIN_HZ, dtype=np.int64)
    size = {profile.name: profile.separation_hz for profile in document.profiles}
    taken = {zone: np.zeros(len(edges) - 1, dtype=np.int64) for zone in document.zones}
    for carrier in carriers(document):
        half = max(size[carrier.profile], 2 * _BIN_HZ) // 2
        first = max(0, (carrier.frequency_hz - half - low) // _BIN_HZ)
        last = max(0, (carrier.frequency_hz + half - low) // _BIN_HZ)
        if not carrier.foreign:
            taken[carrier.zone][first:last] += 1
    rows_ = np.array(list(taken.values())).reshape(len(taken), len(edges) - 1)
    return edges, (rows_ > 0).sum(axis=0), rows_.sum(axis=0)


def _draw_matrix(
    figure: Figure,
    axes: Axes,
    document: PlanDocument,
    counts: NDArray[np.int64],
    cell_in: float,
) -> None:
    zones = document.zones
    size = len(zones)
    image = axes.imshow(
        np.ma.masked_equal(counts, 0),
        cmap=SHADES,
        vmin=0,
        vmax=max(1, int(counts.max(initial=0))),
    )
    degrees = {frozenset(c.zones): c.degree for c in document.couplings}
    for row, a in enumerate(zones):
        for column, b in enumerate(zones):
            degree = degrees.get(frozenset((a, b)), "full") if a != b else "full"
            _write_cell(
                axes, (row, column), int(counts[row, column]), degree, counts.max(), cell_in
            )
    names = [shortened(zone, 18) for zone in zones]
    if size > _MOST_ZONES_LABELLED:
        names = [str(n) for n in range(1, size + 1)]
    small = 8 if cell_in >= _LEAST_CELL_IN else 5
    axes.set_xticks(
        range(size), names, rotation=45, ha="right", rotation_mode="anchor", fontsize=small
    )
    axes.set_yticks(range(size), names, fontsize=small)
    axes.tick_params(length=0)
    axes.set_xlabel("is used in this zone too", fontsize=9)
    axes.set_ylabel("spectrum of links of this zone", fontsize=9)
    axes.set_title("links on spectrum used again", fontsize=9, loc="left", color=INK)
    axes.set_anchor("W")
    bar = figure.colorbar(image, ax=axes, fraction=0.04, pad=0.02)
    bar.set_label("links", size=9)
    bar.ax.tick_params(labelsize=8)


def _draw_amounts(axes: Axes, depths: Sequence[Depths]) -> None:
    """Draw how much spectrum is used how often."""
    uses = np.concatenate([links for _, _, links in depths])
    counts = np.bincount(uses, minlength=2)
    axes.bar(range(1, len(counts)), counts[1:] * _BIN_HZ / 1e6, color=PALETTE[5], width=0.8)
    axes.set_xlim(0.3, max(8, len(counts) - 1) + 0.7)
    axes.xaxis.set_major_locator(MaxNLocator(10, integer=True))
    axes.set_xlabel("links on the same spectrum", fontsize=9)
    axes.set_ylabel("spectrum (MHz)", fontsize=9)
    axes.set_title("how much is used how often", fontsize=9, loc="left", color=INK)
    axes.tick_params(labelsize=8)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _write_cell(
    axes: Axes, at: tuple[int, int], count: int, degree: str, most: int, cell_in: float
) -> None:
    letter = {"full": "F", "separation": "S"}.get(degree, "")
    text = " ".join(part for part in (str(count) if count else "", letter) if part)
    if not text or cell_in < _LEAST_CELL_IN:
        return
    dark = count > 0.6 * most
    axes.text(
        at[1], at[0], text, ha="center", va="center", fontsize=7, color="white" if dark else INK
    )
