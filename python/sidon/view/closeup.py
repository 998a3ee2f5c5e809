"""The close-up: a few megahertz of the busiest zone, its guards, and every product beside them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from sidon.plan.document import PlanDocument
from sidon.view.marks import COUNT_COLOURS, GUARD_ALPHA, INK, profile_markers, zone_colours
from sidon.view.products import Moment, busiest_moment, product_counts

__all__ = ["Subject", "choose", "draw"]

_WIDTH_HZ = 6_000_000
# Carriers stand on multiples of this, and so do their products: each is drawn where it is.
_BIN_HZ = 500
_INSET_HZ = 9_000
_LABEL_ROWS = 3
_LETTER_HZ = 38_000
"""The width of a letter of a carrier's name."""


@dataclass(frozen=True)
class Subject:
    """What the close-up shows.

    Parameters
    ----------
    zone : str
        The zone.
    moment : Moment
        Who is on the air.
    low_hz, high_hz : int
        The edges of the piece.
    """

    zone: str
    moment: Moment
    low_hz: int
    high_hz: int


def choose(document: PlanDocument) -> Subject | None:
    """Choose the piece with most guarded carriers of the zone with most links.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    Subject or None
        None when there are too few carriers for a product.
    """
    sizes = {zone: sum(row.zone == zone for row in document.assignments) for zone in document.zones}
    zone = max(sizes, key=lambda name: sizes[name], default="")
    if sizes.get(zone, 0) < 3:
        return None
    moment = busiest_moment(document, zone)
    guards = {profile.name: len(profile.guards_hz) for profile in document.profiles}
    weights = sorted((c.frequency_hz, guards[c.profile]) for c in moment.carriers if c.zone == zone)

    def weight(low: int) -> int:
        return sum(w for hz, w in weights if low <= hz <= low + _WIDTH_HZ)

    low = max((hz - 250_000 for hz, _ in weights), key=weight)
    return Subject(zone, moment, low, low + _WIDTH_HZ)


def draw(axes: Axes, document: PlanDocument, subject: Subject) -> None:
    """Draw the close-up.

    Parameters
    ----------
    axes : Axes
        Where to.
    document : PlanDocument
        The plan.
    subject : Subject
        What to show.
    """
    from sidon.view.spectrum import shade

    low, high = subject.low_hz, subject.high_hz
    axes.set_xlim(low / 1e6, high / 1e6)
    axes.set_ylim(3, 0.1)
    shade(axes, document, low, high)
    edges = np.arange(low, high + _BIN_HZ, _BIN_HZ, dtype=np.int64) - _BIN_HZ // 2
    counts = product_counts(document, subject.moment, subject.zone, edges)
    for row, form in enumerate(("2A-B", "A+B-C"), start=1):
        present = np.flatnonzero(counts[form])
        centres = (edges[present] + _BIN_HZ // 2) / 1e6
        axes.vlines(centres, row + 0.25, row + 0.85, color=COUNT_COLOURS[form], linewidth=0.8)
    _draw_carriers(axes, document, subject)
    axes.set_yticks([0.55, 1.55, 2.55], ["carriers", "2A-B", "A+B-C"])
    axes.tick_params(axis="y", length=0)
    axes.tick_params(labelsize=8)
    when = f" while {subject.moment.label} is on" if subject.moment.label else ""
    axes.set_title(
        f"Close up: {subject.zone}{when}",
        fontsize=9,
        loc="left",
        color=INK,
        pad=24,
    )
    axes.set_xlabel("frequency (MHz)")
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _draw_carriers(axes: Axes, document: PlanDocument, subject: Subject) -> None:
    guards = {profile.name: profile.guards_hz for profile in document.profiles}
    colour = zone_colours(document)[subject.zone]
    markers = profile_markers(document)
    ends = [0.0] * _LABEL_ROWS
    for carrier in sorted(subject.moment.carriers, key=lambda carrier: carrier.frequency_hz):
        hz = carrier.frequency_hz
        if carrier.zone != subject.zone or not subject.low_hz <= hz <= subject.high_hz:
            continue
        ink = INK if carrier.foreign else colour
        axes.plot([hz / 1e6] * 2, [0.45, 3], color=ink, linewidth=1, zorder=3)
        axes.plot(
            [hz / 1e6],
            [0.45],
            marker="x" if carrier.foreign else markers.get(carrier.profile, "x"),
            markersize=7,
            markerfacecolor="white" if carrier.spare else ink,
            markeredgecolor=ink,
            zorder=4,
        )
        # One name above another where they would run into each other.
        row = next((row for row, end in enumerate(ends) if hz >= end), 0)
        ends[row] = hz + (len(carrier.name) + 2) * _LETTER_HZ
        axes.annotate(
            carrier.name,
            (hz / 1e6, 0.45),
            xytext=(5, 3 + 8 * row),
            textcoords="offset points",
            fontsize=7,
            color=ink,
        )
        for row, form in enumerate(("2A-B", "A+B-C"), start=1):
            guard = guards[carrier.profile].get(form, 0)
            if guard:
                _guard(axes, hz, guard, row, ink)


def _guard(axes: Axes, hz: int, guard: int, row: int, ink: str) -> None:
    """Draw a guard so that a product on its very edge, which is allowed, is seen to be outside."""
    inset = min(_INSET_HZ, guard // 3)
    axes.fill_between(
        [(hz - guard + inset) / 1e6, (hz + guard - inset) / 1e6],
        row + 0.12,
        row + 0.98,
        color=ink,
        alpha=GUARD_ALPHA,
        linewidth=0,
        zorder=2,
    )
    edges = [(hz - guard) / 1e6, (hz + guard) / 1e6]
    axes.vlines(edges, row + 0.12, row + 0.98, color=ink, linewidth=0.8, zorder=1.5)
