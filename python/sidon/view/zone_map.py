"""Zones against frequency: who stands where, one row per zone, occupied channels shaded."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier, carriers
from sidon.view.bands import left_out_text, rows
from sidon.view.marks import EXCLUDED, INK, OCCUPIED, left_out
from sidon.view.spectrum import shade
from sidon.view.strips import OTHER, Group, broken_axis, groups, heading, shortened

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["zone_map"]

_ROW_IN = 0.3
_LEAST_ROW_IN = 0.14
_MOST_HEIGHT_IN = 60.0


def zone_map(plan: Plan) -> Figure:
    """Draw zones against frequency.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    matplotlib.figure.Figure
        What is in use in up to four bands below each other, in each a row per zone with its
        number of carriers there: required links as full strokes, spares as half strokes, foreign
        carriers as black strokes with a cross; colour by profile.
    """
    document = plan.document
    bands, zones = rows(document), document.zones
    row_in = max(_LEAST_ROW_IN, min(_ROW_IN, _MOST_HEIGHT_IN / (len(bands) * max(1, len(zones)))))
    band_in = 0.6 + row_in * len(zones)
    figure = Figure(figsize=(11.7, 1.2 + band_in * len(bands)), dpi=150, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(len(bands), 1)
    everyone, kinds = carriers(document), groups(document)
    for index, band in enumerate(bands):
        parts = broken_axis(figure, grid[index], [(a / 1e6, b / 1e6) for a, b in band])
        whole = sum(high - low for low, high in band)
        for part, (low, high) in zip(parts, band, strict=True):
            inside = [c for c in everyone if low <= c.frequency_hz <= high]
            _draw(part, document, (low, high), inside, kinds)
            part.xaxis.set_major_locator(MaxNLocator(max(2, round(12 * (high - low) / whole))))
        _label(parts[0], document, everyone, band, row_in)
        if index == len(bands) - 1:
            rest = left_out_text(document, bands)
            label = f"frequency (MHz); {rest}" if rest else "frequency (MHz)"
            parts[0].set_xlabel(label, loc="left", fontsize=9)
    links = len(document.assignments)
    subject = f"{links} link{'' if links == 1 else 's'} by zone and frequency"
    figure.suptitle(heading(document, subject), fontsize=12, color=INK)
    figure.legend(
        handles=_legend(document, everyone, kinds),
        loc="outside lower center",
        ncols=5,
        fontsize=8,
        frameon=False,
    )
    return figure


def _draw(
    axes: Axes,
    document: PlanDocument,
    span: tuple[int, int],
    inside: Sequence[Carrier],
    kinds: Sequence[Group],
) -> None:
    shade(axes, document, *span)
    zones = document.zones
    axes.set_ylim(len(zones), 0)
    for row in range(1, len(zones)):
        axes.axhline(row, color="#dddddd", linewidth=0.5, zorder=0.6)
    seat = {name: row for row, name in enumerate(zones)}
    for kind in kinds:
        here = [c for c in inside if c.profile in kind.profiles and not c.foreign]
        for spare in (False, True):
            some = [c for c in here if c.spare is spare]
            axes.vlines(
                [c.frequency_hz / 1e6 for c in some],
                [seat[c.zone] + (0.5 if spare else 0.1) for c in some],
                [seat[c.zone] + 0.9 for c in some],
                color=kind.colour,
                linewidth=0.9,
                zorder=3,
            )
    foreign = [c for c in inside if c.foreign]
    hertz = [c.frequency_hz / 1e6 for c in foreign]
    tops = [seat[c.zone] + 0.22 for c in foreign]
    axes.vlines(hertz, tops, [top + 0.68 for top in tops], color=INK, linewidth=0.9, zorder=3)
    axes.plot(hertz, tops, linestyle="none", marker="x", color=INK, markersize=4, zorder=4)


def _label(
    axes: Axes,
    document: PlanDocument,
    everyone: Sequence[Carrier],
    band: Sequence[tuple[int, int]],
    row_in: float,
) -> None:
    """Name each zone, with the number of its own links in this band."""
    labels = []
    for zone in document.zones:
        count = sum(
            any(low <= c.frequency_hz <= high for low, high in band)
            for c in everyone
            if c.zone == zone and not c.foreign
        )
        labels.append(f"{shortened(zone)}  ({count})")
    axes.set_yticks([row + 0.5 for row in range(len(labels))], labels)
    axes.tick_params(axis="y", length=0, labelsize=8 if row_in > 0.2 else 6)
    axes.set_ylabel("zone (links in this band)", fontsize=8)


def _legend(
    document: PlanDocument, everyone: Sequence[Carrier], kinds: Sequence[Group]
) -> list[Artist]:
    entries: list[Artist] = [
        Line2D([], [], color=kind.colour, linewidth=1.6, label=kind.label) for kind in kinds
    ]
    if any(c.spare for c in everyone):
        entries.append(
            Line2D(
                [], [], color=OTHER, marker=2, markersize=7, linestyle="none", label="spare (half)"
            )
        )
    if any(c.foreign for c in everyone):
        entries.append(
            Line2D([], [], color=INK, marker="x", markersize=5, linestyle="none", label="foreign")
        )
    spectrum = document.spectrum
    if spectrum is not None and spectrum.occupied:
        entries.append(Patch(label="occupied TV channel", **OCCUPIED))
    if spectrum is not None and left_out(spectrum):
        entries.append(Patch(label="excluded or not available", **EXCLUDED))
    return entries
