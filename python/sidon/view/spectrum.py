"""The picture of a plan: what is available in rows of lanes, and one piece close up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier
from sidon.view import closeup
from sidon.view.bands import left_out_text, rows
from sidon.view.lanes import DENSITY, Zone, height, zones
from sidon.view.marks import (
    EDGE_GUARD,
    EXCLUDED,
    FOREIGN,
    INK,
    OCCUPIED,
    PRODUCTS,
    break_mark,
    left_out,
    legend_entries,
    profile_markers,
    zone_colours,
)
from sidon.view.products import busiest_moment, product_counts

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["spectrum"]

Span = tuple[int, int]
Density = tuple[NDArray[np.int64], NDArray[np.int64]]

_BIN_HZ = 100_000
_LANE_IN = 0.27
_LEAST_LANE_IN = 0.12
_MOST_HEIGHT_IN = 16.5
"""A sheet of A3: beyond it lanes become lower, and then one for all times of a zone."""
_LEAST_SHARE = 0.08
_LEAST_NUMBERED = 0.02


def spectrum(plan: Plan) -> Figure:
    """Draw the spectrum of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    matplotlib.figure.Figure
        What is in use in rows, broken where no carrier is for long, one lane per zone and time on
        the air that has a carrier in the row, or per zone where more would not fit: occupied
        channels shaded and numbered, exclusions hatched, carriers by profile, spares hollow,
        third-order products as a density; below, the busiest piece close up, where the products
        are seen to miss the guards.
    """
    document = plan.document
    bands = rows(document)
    subject = closeup.choose(document)
    closeup_in = 2.6 if subject else 0.0
    room_in = _MOST_HEIGHT_IN - 1.5 - closeup_in - 0.55 * len(bands)
    layouts = [zones(document, band) for band in bands]
    by_time = _LEAST_LANE_IN * sum(map(height, layouts)) <= room_in
    if not by_time:
        layouts = [zones(document, band, by_time=False) for band in bands]
    lane_in = min(_LANE_IN, room_in / sum(map(height, layouts)))
    ratios = [0.55 + lane_in * height(layout) for layout in layouts]
    ratios += [closeup_in] * (subject is not None)
    size = (11.7, 1.5 + sum(ratios))
    figure = Figure(figsize=size, dpi=150, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(len(ratios), 1, height_ratios=ratios)
    pieces = [piece for band in bands for piece in band]
    density = _densities(document, pieces)
    for index, band in enumerate(bands):
        whole = sum(high - low for low, high in band)
        # A narrow piece beside a wide one keeps room for its ticks.
        widths = [max(high - low, whole * _LEAST_SHARE) for low, high in band]
        inner = grid[index].subgridspec(1, len(band), width_ratios=widths, wspace=0.03)
        parts = [figure.add_subplot(inner[column]) for column in range(len(band))]
        _draw_row(parts, document, band, layouts[index], density, lane_in)
        if index == len(bands) - 1:
            notes = ["" if by_time else "all times of a zone in one lane"]
            notes = ["frequency (MHz)", *notes, left_out_text(document, bands)]
            parts[0].set_xlabel("; ".join(filter(None, notes)), loc="left", fontsize=9)
    if subject:
        closeup.draw(figure.add_subplot(grid[-1]), document, subject)
    figure.suptitle(_title(document), fontsize=12, color=INK)
    figure.legend(
        handles=legend_entries(document, pieces, closeup_zone=subject.zone if subject else None),
        loc="outside lower center",
        ncols=4,
        fontsize=8,
        frameon=False,
    )
    return figure


def _title(document: PlanDocument) -> str:
    place = f", {document.place.name}" if document.place else ""
    served, lost = len(document.assignments), len(document.refused)
    refused = f", {lost} refused" if lost else ""
    return f"{document.study or 'Plan'}{place}: {served} of {served + lost} links served{refused}"


def _densities(document: PlanDocument, spans: Sequence[Span]) -> dict[str, Density]:
    """Bin edges and counts of third-order products for every zone."""
    low, high = min(a for a, _ in spans), max(b for _, b in spans)
    edges = np.arange(low, high + _BIN_HZ, _BIN_HZ, dtype=np.int64)
    found = {}
    for zone in document.zones:
        counts = product_counts(document, busiest_moment(document, zone), zone, edges)
        found[zone] = edges, np.asarray(sum(counts.values()))
    return found


def _draw_row(
    axes: Sequence[Axes],
    document: PlanDocument,
    pieces: Sequence[Span],
    layout: list[Zone],
    density: dict[str, Density],
    lane_in: float,
) -> None:
    whole = sum(high - low for low, high in pieces)
    for index, (part, (low, high)) in enumerate(zip(axes, pieces, strict=True)):
        _draw_piece(part, document, low, high, layout, density)
        part.xaxis.set_major_locator(MaxNLocator(max(2, round(10 * (high - low) / whole))))
        if index == 0:
            _label_lanes(part, document, layout, lane_in)
        else:
            part.set_yticks([])
            break_mark(axes[index - 1], 1)
            break_mark(part, 0)


def _draw_piece(
    axes: Axes,
    document: PlanDocument,
    low: int,
    high: int,
    layout: list[Zone],
    density: dict[str, Density],
) -> None:
    axes.set_xlim(low / 1e6, high / 1e6)
    axes.set_ylim(height(layout), 0)
    shade(axes, document, low, high)
    colours, markers = zone_colours(document), profile_markers(document)
    for zone in layout:
        edges, counts = density[zone.name]
        top = max(1, int(counts.max(initial=0)))
        axes.stairs(
            zone.floor - DENSITY * 0.9 * counts / top,
            edges / 1e6,
            baseline=zone.floor,
            fill=True,
            color=PRODUCTS,
            linewidth=0,
            zorder=1,
        )
        axes.axhline(zone.floor, color="#bbbbbb", linewidth=0.5, zorder=1)
        for lane in zone.lanes:
            axes.axhline(lane.top + 1, color="#e0e0e0", linewidth=0.5, zorder=0.5)
            for carrier in lane.carriers:
                if low <= carrier.frequency_hz <= high:
                    marker = markers.get(carrier.profile, "x")
                    _stem(axes, carrier, lane.top, colours[zone.name], marker)
    axes.tick_params(labelsize=8)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _label_lanes(axes: Axes, document: PlanDocument, layout: list[Zone], lane_in: float) -> None:
    """Write the times on the air beside their lanes, and the zone to the left of them."""
    colours = zone_colours(document)
    lanes = [(zone, lane) for zone in layout for lane in zone.lanes]
    axes.set_yticks([lane.top + 0.6 for _, lane in lanes], [lane.label for _, lane in lanes])
    for label, (zone, _) in zip(axes.get_yticklabels(), lanes, strict=True):
        label.set_color(colours[zone.name])
        label.set_fontsize(min(7, 60 * lane_in))
    axes.tick_params(axis="y", length=0)
    # Names stand in a column of their own, left of the longest time.
    longest = max((len(lane.label) for _, lane in lanes), default=0)
    for zone in layout:
        axes.annotate(
            zone.name,
            (0, zone.middle),
            xycoords=("axes fraction", "data"),
            xytext=(-8 - 4.3 * longest, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            fontsize=9,
            color=colours[zone.name],
            annotation_clip=False,
        )


def _stem(axes: Axes, carrier: Carrier, lane_top: float, colour: str, marker: str) -> None:
    x, top = carrier.frequency_hz / 1e6, lane_top + 0.4
    colour = FOREIGN if carrier.foreign else colour
    axes.plot([x, x], [lane_top + 1, top], color=colour, linewidth=0.9, zorder=3)
    axes.plot(
        [x],
        [top],
        marker="x" if carrier.foreign else marker,
        markersize=4.5,
        markerfacecolor="white" if carrier.spare else colour,
        markeredgecolor=colour,
        markeredgewidth=0.9,
        linestyle="none",
        zorder=4,
        clip_on=False,
    )


def shade(axes: Axes, document: PlanDocument, low: int, high: int) -> None:
    """Shade what is taken between two edges in hertz, and number the channels."""
    spectrum = document.spectrum
    if spectrum is None:
        return
    guard = spectrum.edge_guard_hz
    for channel in spectrum.occupied:
        if channel.high_hz + guard <= low or channel.low_hz - guard >= high:
            continue
        a, b = channel.low_hz, channel.high_hz
        axes.axvspan((a - guard) / 1e6, (b + guard) / 1e6, zorder=0, **EDGE_GUARD)
        axes.axvspan(a / 1e6, b / 1e6, zorder=0.1, **OCCUPIED)
        middle = (max(a, low) + min(b, high)) / 2
        if min(b, high) - max(a, low) > (high - low) * _LEAST_NUMBERED:
            axes.annotate(
                str(channel.channel),
                (middle / 1e6, 1),
                xycoords=("data", "axes fraction"),
                xytext=(0, 2),
                textcoords="offset points",
                ha="center",
                va="bottom",
                fontsize=8,
                color="#555555",
            )
    for a, b in left_out(spectrum):
        if b > low and a < high:
            axes.axvspan(max(a, low) / 1e6, min(b, high) / 1e6, zorder=0.2, **EXCLUDED)
