"""The picture of a plan: the whole band in strips by zone, and one piece close up."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from sidon._files import write_with
from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier, carriers
from sidon.view import closeup
from sidon.view.marks import (
    COUNT_COLOURS,
    EDGE_GUARD,
    EXCLUDED,
    FOREIGN,
    INK,
    OCCUPIED,
    legend_entries,
    profile_markers,
    zone_colours,
)
from sidon.view.products import busiest_moment, product_counts

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["save", "spectrum"]

_STRIP_HZ = 75_000_000
_BIN_HZ = 100_000
_LANE_TOP = 0.8
_DENSITY_TOP = 0.34


def spectrum(plan: Plan) -> Figure:
    """Draw the spectrum of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    matplotlib.figure.Figure
        The band in strips, one row per zone: occupied channels shaded and numbered, exclusions
        hatched, carriers by profile, spares hollow, third-order products as a density; below, the
        busiest piece close up, where the products are seen to miss the guards.
    """
    document = plan.document
    strips = _strips(document)
    zones = document.zones
    heights = [0.45 + 0.42 * len(zones)] * len(strips)
    subject = closeup.choose(document)
    rows = [*heights, *([1.9] if subject else [])]
    figure = Figure(figsize=(11.7, 1.7 + 1.22 * sum(rows)), dpi=150, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots(len(rows), 1, gridspec_kw={"height_ratios": rows}, squeeze=False)[:, 0]
    density = _densities(document)
    for strip, (low, high) in zip(axes, strips, strict=False):
        _draw_strip(strip, document, low, high, density)
    axes[len(strips) - 1].set_xlabel("frequency (MHz)")
    if subject:
        closeup.draw(axes[-1], document, subject)
    figure.suptitle(_title(document), fontsize=12, color=INK)
    figure.legend(
        handles=legend_entries(document),
        loc="outside lower center",
        ncols=4,
        fontsize=8,
        frameon=False,
    )
    return figure


def save(plan: Plan, path: str | Path) -> None:
    """Draw the spectrum of a plan into a file, whole or not at all.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : str or Path
        Where to; the ending decides the format (png, pdf, svg).

    Raises
    ------
    ValueError
        When the ending names no format.
    OSError
        When it cannot be written; what stood there before still does.
    """
    path = Path(path)
    known = ("png", "pdf", "svg")
    kind = path.suffix.lower().removeprefix(".")
    if kind not in known:
        what = f"{path.name}: cannot draw {kind or 'without an ending'!r}; use {', '.join(known)}"
        raise ValueError(what)
    figure = spectrum(plan)
    # Without a date, and with names that are not drawn by lot, one plan gives one file.
    undated: dict[str, str | None] = {"pdf": "CreationDate", "svg": "Date"}
    metadata = {undated[kind]: None} if kind in undated else {}
    with matplotlib.rc_context({"svg.hashsalt": "sidon"}):
        write_with(path, lambda file: figure.savefig(file, format=kind, metadata=metadata))


def _title(document: PlanDocument) -> str:
    place = f", {document.place.name}" if document.place else ""
    served, lost = len(document.assignments), len(document.refused)
    refused = f", {lost} refused" if lost else ""
    return f"{document.study or 'Plan'}{place}: {served} of {served + lost} links served{refused}"


def _strips(document: PlanDocument) -> list[tuple[int, int]]:
    """Cut the band into strips of equal width."""
    edges = [row.frequency_hz for row in carriers(document)]
    if document.spectrum:
        edges += [edge for span in document.spectrum.ranges_hz for edge in span]
    if not edges:
        edges = [hz for spans in document.availability.values() for span in spans for hz in span]
    low, high = (min(edges), max(edges)) if edges else (0, 1_000_000)
    low, high = (low, high) if low < high else (low - 500_000, high + 500_000)
    count = min(4, math.ceil((high - low) / _STRIP_HZ))
    width = (high - low) / count
    return [(round(low + i * width), round(low + (i + 1) * width)) for i in range(count)]


def _densities(document: PlanDocument) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Bin edges and counts of third-order products for every zone."""
    strips = _strips(document)
    edges = np.arange(strips[0][0], strips[-1][1] + _BIN_HZ, _BIN_HZ, dtype=np.int64)
    found = {}
    for zone in document.zones:
        counts = product_counts(document, busiest_moment(document, zone), zone, edges)
        found[zone] = edges, np.asarray(sum(counts.values()))
    return found


def _draw_strip(
    axes: Axes,
    document: PlanDocument,
    low: int,
    high: int,
    density: dict[str, tuple[np.ndarray, np.ndarray]],
) -> None:
    zones = document.zones
    axes.set_xlim(low / 1e6, high / 1e6)
    axes.set_ylim(len(zones), 0)
    shade(axes, document, low, high)
    colours, markers = zone_colours(document), profile_markers(document)
    for row, zone in enumerate(zones):
        floor = row + 0.95
        edges, counts = density[zone]
        top = max(1, int(counts.max(initial=0)))
        axes.stairs(
            floor - _DENSITY_TOP * counts / top,
            edges / 1e6,
            baseline=floor,
            fill=True,
            color=COUNT_COLOURS["A+B-C"],
            alpha=0.55,
            linewidth=0,
        )
        axes.axhline(floor, color="#bbbbbb", linewidth=0.5, zorder=1)
        for carrier in carriers(document):
            if carrier.zone == zone and low <= carrier.frequency_hz <= high:
                _stem(axes, carrier, row, colours[zone], markers.get(carrier.profile, "x"))
    axes.set_yticks([row + 0.6 for row in range(len(zones))], zones)
    for label, zone in zip(axes.get_yticklabels(), zones, strict=True):
        label.set_color(colours[zone])
    axes.tick_params(axis="y", length=0)
    axes.tick_params(labelsize=8)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _stem(axes: Axes, carrier: Carrier, row: int, colour: str, marker: str) -> None:
    x, top = carrier.frequency_hz / 1e6, row + 0.95 - _LANE_TOP + 0.1
    colour = FOREIGN if carrier.foreign else colour
    axes.plot([x, x], [row + 0.95, top], color=colour, linewidth=0.9, zorder=3)
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
        if low < middle < high:
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
    gaps = [(e.low_hz, e.high_hz) for e in spectrum.exclusions]
    ranges = sorted(spectrum.ranges_hz)
    gaps += [(a[1], b[0]) for a, b in pairwise(ranges) if a[1] < b[0]]
    for a, b in gaps:
        if b > low and a < high:
            axes.axvspan(max(a, low) / 1e6, min(b, high) / 1e6, zorder=0.2, **EXCLUDED)
