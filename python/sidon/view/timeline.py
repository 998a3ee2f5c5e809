"""Use over time: how many links are on the air, by profile and by zone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from sidon.plan.document import PlanDocument
from sidon.plan.recount import carriers
from sidon.view.marks import INK
from sidon.view.moments import Step, moment, pieces, steps
from sidon.view.strips import SHADES, broken_axes, groups, heading, shortened

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["timeline"]

_ROW_IN = 0.3
_LEAST_ROW_IN = 0.14
_LEAST_TEXT_IN = 0.22
_WIDTH_IN = 11.7
_AXIS_IN = 8.6
_HOURS = (1, 2, 3, 4, 6, 12, 24)


def timeline(plan: Plan) -> Figure:
    """Draw the use of a plan over time.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    matplotlib.figure.Figure
        Above, the links on the air over local time, stacked by profile; below, a row per zone
        with the number on the air. Nights and other long pauses are left out. A plan without
        windows has one column: always.
    """
    document = plan.document
    found = steps(document)
    zones = document.zones
    row_in = max(_LEAST_ROW_IN, min(_ROW_IN, 40 / max(1, len(zones))))
    heights = [2.6, 0.3 + row_in * len(zones)]
    size = (_WIDTH_IN, 1.9 + sum(heights))
    figure = Figure(figsize=size, dpi=150, layout="constrained")
    FigureCanvasAgg(figure)
    if found:
        always = sum(not c.spans for c in carriers(document) if not c.foreign)
        spans = pieces(found, lambda step: len(step.on_air) == always)
    else:
        on_air = tuple(c for c in carriers(document) if not c.foreign)
        found, spans = [Step(0, 60, on_air)], []
    limits = spans or [(0, 60)]
    above, below = broken_axes(figure, figure.add_gridspec(1, 1)[0], limits, heights)
    _draw_counts(above, document, found)
    colours = _draw_zones(below, document, found, row_in)
    for parts in (above, below):
        _draw_time(parts, spans, labels=parts is below)
    where = f" ({document.timezone})" if document.timezone else ""
    below[0].set_xlabel(f"local time{where}" if spans else "no windows", loc="left", fontsize=9)
    bar = figure.colorbar(colours, ax=[*above, *below], fraction=0.02, pad=0.01, aspect=40)
    bar.set_label("links on the air", size=9)
    bar.ax.tick_params(labelsize=8)
    most = max(len(step.on_air) for step in found)
    figure.suptitle(
        heading(document, f"use over time, at most {most} links at once"), fontsize=12, color=INK
    )
    figure.legend(
        handles=[Patch(facecolor=g.colour, label=g.label) for g in groups(document)],
        loc="outside lower center",
        ncols=5,
        fontsize=8,
        frameon=False,
    )
    return figure


def _draw_counts(parts: Sequence[Axes], document: PlanDocument, found: Sequence[Step]) -> None:
    edges = np.array([step.start for step in found] + [found[-1].end], dtype=float)
    base = np.zeros(len(found))
    for group in groups(document):
        counts = [sum(c.profile in group.profiles for c in step.on_air) for step in found]
        top = base + np.array(counts, dtype=float)
        for part in parts:
            part.stairs(top, edges, baseline=base, fill=True, color=group.colour, linewidth=0)
        base = top
    for part in parts:
        part.stairs(base, edges, color=INK, linewidth=0.8, baseline=None)
        part.grid(axis="y", color="#dddddd", linewidth=0.5)
        part.set_axisbelow(True)
    parts[0].set_ylim(0, max(1.0, base.max() * 1.08))
    parts[0].yaxis.set_major_locator(MaxNLocator(integer=True))
    parts[0].set_ylabel("links on the air", fontsize=9)


def _draw_zones(
    parts: Sequence[Axes], document: PlanDocument, found: Sequence[Step], row_in: float
) -> matplotlib.cm.ScalarMappable:
    zones = document.zones
    counts = np.array(
        [[sum(c.zone == zone for c in step.on_air) for step in found] for zone in zones]
    )
    edges = [step.start for step in found] + [found[-1].end]
    scale = Normalize(0, max(1, int(counts.max(initial=0))))
    whole = sum(high - low for low, high in (part.get_xlim() for part in parts))
    # Every break takes room away.
    least_in = _LEAST_TEXT_IN * (1 + 0.04 * len(parts)) if len(parts) <= 8 else math.inf
    for part in parts:
        part.pcolormesh(
            edges,
            range(len(zones) + 1),
            np.ma.masked_equal(counts, 0),
            cmap=SHADES,
            norm=scale,
            edgecolors="white",
            linewidth=0.6,
        )
        low, high = part.get_xlim()
        for column, step in enumerate(found):
            inside = low <= step.start and step.end <= high
            width = (step.end - step.start) / whole * _AXIS_IN
            if not inside or width < least_in or row_in < 0.2:
                continue
            for row in range(len(zones)):
                count = int(counts[row, column])
                if count:
                    part.text(
                        (step.start + step.end) / 2,
                        row + 0.5,
                        str(count),
                        ha="center",
                        va="center",
                        fontsize=7,
                        color="white" if scale(count) > 0.6 else INK,
                    )
    parts[0].set_ylim(len(zones), 0)
    labels = [shortened(zone) for zone in zones]
    parts[0].set_yticks([row + 0.5 for row in range(len(zones))], labels)
    parts[0].tick_params(axis="y", length=0, labelsize=8 if row_in > 0.2 else 6)
    parts[0].set_ylabel("zone", fontsize=9)
    return matplotlib.cm.ScalarMappable(scale, SHADES)


def _draw_time(parts: Sequence[Axes], spans: Sequence[tuple[int, int]], *, labels: bool) -> None:
    if not spans:
        for part in parts:
            part.set_xticks([30], ["always" if labels else ""])
        return
    total = sum(end - start for start, end in spans)
    # About eleven ticks in all, at full hours.
    step = 60 * next((h for h in _HOURS if total / (60 * h) <= 11), _HOURS[-1])
    for part, (start, end) in zip(parts, spans, strict=True):
        ticks = [*range(-(-start // step) * step, end + 1, step)]
        if len(ticks) < 1 or len(spans) > 8:
            ticks = [start]
        texts = [""] * len(ticks)
        if labels:
            days = [moment(tick).date() for tick in ticks]
            texts = [
                f"{moment(tick):%H:%M}"
                + (f"\n{moment(tick):%Y-%m-%d}" if i == 0 or days[i] != days[i - 1] else "")
                for i, tick in enumerate(ticks)
            ]
        part.set_xticks(ticks, texts)
        if labels and len(spans) > 8:
            part.tick_params(axis="x", rotation=90, labelsize=6)
