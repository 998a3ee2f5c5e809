"""The close-up: a few megahertz of the busiest zone, its guards, and every product beside them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from sidon.plan.document import PlanDocument
from sidon.view.marks import COUNT_COLOURS, GUARD_ALPHA, INK, profile_markers, zone_colours
from sidon.view.products import Moment, busiest_moment, product_counts
from sidon.view.strips import shortened

__all__ = ["Subject", "choose", "draw"]

_WIDTH_HZ = 6_000_000
_LEAST_HZ = 2_500_000
_BESIDE_HZ = 250_000
_FEWEST = 3
"""Fewer links make no product of three."""
# Carriers stand on multiples of this, and so do their products: each is drawn where it is.
_BIN_HZ = 500
_INSET_HZ = 9_000
_LABEL_ROWS = 4
_LETTERS = 150
"""How many letters of a carrier's name fit beside each other from edge to edge."""


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
    """Choose the piece with most guarded carriers, of whatever zone; the larger zone among equals.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    Subject or None
        None when there are too few carriers for a product.
    """
    sizes = Counter(row.zone for row in document.assignments)
    guards = {profile.name: len(profile.guards_hz) for profile in document.profiles}
    best: tuple[tuple[int, int], Subject] | None = None
    for zone in document.zones:
        if sizes[zone] < _FEWEST:
            continue
        moment = busiest_moment(document, zone)
        weights = sorted(
            (c.frequency_hz, guards[c.profile]) for c in moment.carriers if c.zone == zone
        )
        for first, _ in weights:
            inside = [(hz, w) for hz, w in weights if first <= hz <= first + _WIDTH_HZ]
            rank = sum(w for _, w in inside), sizes[zone]
            if best is None or rank > best[0]:
                high = max(inside[-1][0], first + _LEAST_HZ) + _BESIDE_HZ
                best = rank, Subject(zone, moment, first - _BESIDE_HZ, high)
    return best[1] if best else None


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
    rows = _draw_carriers(axes, document, subject)
    axes.set_yticks([0.55, 1.55, 2.55], ["carriers", "2A-B", "A+B-C"])
    axes.tick_params(axis="y", length=0)
    axes.tick_params(labelsize=8)
    when = f" while {subject.moment.label} is on" if subject.moment.label else ""
    axes.set_title(
        f"Close up: {subject.zone}{when}",
        fontsize=9,
        loc="left",
        color=INK,
        pad=8 + 8 * rows,
    )
    axes.set_xlabel("frequency (MHz)")
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _draw_carriers(axes: Axes, document: PlanDocument, subject: Subject) -> int:
    """Draw carriers and guards; return in how many rows the names stand."""
    guards = {profile.name: profile.guards_hz for profile in document.profiles}
    colour = zone_colours(document)[subject.zone]
    markers = profile_markers(document)
    ends, rows = [0.0] * _LABEL_ROWS, 1
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
        rows = max(rows, _name(axes, carrier.name, hz, subject, ends, ink))
        for row, form in enumerate(("2A-B", "A+B-C"), start=1):
            guard = guards[carrier.profile].get(form, 0)
            if guard:
                _guard(axes, hz, guard, row, ink)

    return rows


def _name(axes: Axes, text: str, hz: int, subject: Subject, ends: list[float], ink: str) -> int:
    """Write a name above the markers, where it runs into no other; return its row from 1.

    `ends` says how far each row is taken. A name for which no row is free is left out: 0.
    """
    text, letter = shortened(text), (subject.high_hz - subject.low_hz) / _LETTERS
    width = len(text) * letter
    to_the_left = hz + width > subject.high_hz
    start = hz - width if to_the_left else hz - letter
    row = next((row for row, end in enumerate(ends) if start >= end), None)
    if row is None:
        return 0
    ends[row] = start + width + letter
    axes.annotate(
        text,
        (hz / 1e6, 0.45),
        xytext=(4 if to_the_left else -4, 7 + 8 * row),
        textcoords="offset points",
        ha="right" if to_the_left else "left",
        fontsize=7,
        color=ink,
    )
    return row + 1


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
