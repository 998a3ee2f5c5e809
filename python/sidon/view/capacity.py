"""The picture of a capacity: tuning ranges against what is taken, and the counts beside them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator

from sidon.capacity.lines import NOT_CHECKED
from sidon.capacity.result import GAP_HZ
from sidon.capacity.verdict import (
    COMFORTABLE,
    NOT_FOUND,
    NOTHING_ASKED,
    OPEN_LATER,
    SHORT_LATER,
    TIGHT,
    TOO_FEW,
    UNKNOWN,
)
from sidon.view.files import save_figure
from sidon.view.marks import INK, OCCUPIED, Shading

if TYPE_CHECKING:
    from sidon.capacity import Capacity, Row

__all__ = ["draw", "save"]

Span = tuple[int, int]

_ROW_IN = 0.3
_LEAST_SHARE = 0.09
_NARROW = 0.16
_WIDE_HZ = 150_000_000
_BAR = 0.62
_MOST_ROWS = 100
"""More would make a picture that nobody can print."""

_MANY = 4
"""Where counts differ more than so many times, small ones are lost on a linear axis."""

# Okabe and Ito (2008), to be told apart by colour-blind readers; each verdict is written out too.
_COLOURS = {
    COMFORTABLE: "#009E73",
    OPEN_LATER: "#56B4E9",
    SHORT_LATER: "#0072B2",
    TIGHT: "#E69F00",
    NOT_FOUND: "#CC79A7",
    TOO_FEW: "#D55E00",
    UNKNOWN: "#777777",
    NOTHING_ASKED: "#777777",
}
_CHANNEL = re.compile(r"(?:occupied |exclusion ['\"])channel (\w+)")
_NO_VERDICT = "#777777"
_FREE_ALPHA = 0.28
_DARK: Shading = {"facecolor": "none", "edgecolor": "#9a9a9a", "hatch": "////", "linewidth": 0}


def draw(capacity: Capacity) -> Figure:
    """Draw a capacity.

    Parameters
    ----------
    capacity : Capacity
        The answer.

    Returns
    -------
    matplotlib.figure.Figure
        A row per tuning range: to the left the range between what is taken, with the carriers that
        fit; to the right how many fit and at most can, and how many are wanted, now and later.
        Ranges of which nothing is checked are named below, not drawn.
    """
    known = [row for row in capacity.rows if row.verdict != UNKNOWN or row.candidates]
    rows = known[:_MOST_ROWS]
    pieces = _pieces([span for row in rows for span in row.ranges_hz])
    height = 2.5 + _ROW_IN * max(2, len(rows))
    figure = Figure(figsize=(12.6, height), dpi=150, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(1, 2, width_ratios=[2, 1])
    whole = sum(high - low for low, high in pieces)
    widths = [max(high - low, whole * _LEAST_SHARE) for low, high in pieces]
    inner = grid[0].subgridspec(1, len(pieces), width_ratios=widths, wspace=0.03)
    parts = [figure.add_subplot(inner[i]) for i in range(len(pieces))]
    for index, (axes, piece) in enumerate(zip(parts, pieces, strict=True)):
        _draw_piece(axes, capacity, rows, piece)
        share = widths[index] / sum(widths)
        if share < _NARROW:
            axes.set_xticks([round((piece[0] + piece[1]) / 2e6)])
        else:
            axes.xaxis.set_major_locator(MaxNLocator(max(2, round(9 * share))))
        if index == 0:
            axes.set_yticks(range(len(rows)), [f"{row.profile}  {row.band}" for row in rows])
            axes.set_xlabel("frequency (MHz)", loc="left", fontsize=9)
        else:
            axes.set_yticks([])
    _draw_counts(figure.add_subplot(grid[1]), rows)
    figure.suptitle(f"How many carriers fit: {capacity.study}, {capacity.place}", color=INK)
    figure.legend(
        handles=_legend(capacity, rows, pieces),
        loc="outside lower center",
        ncols=4,
        fontsize=8,
        frameon=False,
        title=_small_print(capacity, known),
        title_fontsize=8,
    )
    return figure


def save(capacity: Capacity, path: str | Path) -> None:
    """Draw a capacity into a file, whole or not at all.

    Parameters
    ----------
    capacity : Capacity
        The answer.
    path : str or Path
        Where to; the ending decides the format (png, pdf, svg).

    Raises
    ------
    ValueError
        When the ending names no format.
    OSError
        When it cannot be written; what stood there before still does.
    """
    save_figure(draw(capacity), path)


def _pieces(spans: Sequence[Span]) -> list[Span]:
    """Cut out the spectrum that is drawn, in pieces with no tuning range between them."""
    merged: list[Span] = []
    for low, high in sorted(spans) or [(470_000_000, 608_000_000)]:
        if merged and low - merged[-1][1] <= GAP_HZ:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged


def _draw_piece(axes: Axes, capacity: Capacity, rows: Sequence[Row], piece: Span) -> None:
    low, high = piece
    pad = (high - low) / 100
    axes.set_xlim((low - pad) / 1e6, (high + pad) / 1e6)
    axes.set_ylim(max(1, len(rows)) - 0.5, -0.5)
    # Room for the numbers of channels, the same beside them, so that rows stay level.
    axes.set_title(" ", fontsize=7)
    for a, b in _outside(capacity, piece):
        axes.axvspan(a / 1e6, b / 1e6, zorder=0, **_DARK)
    for a, b, label in capacity.spectrum.taken:
        if b <= low or a >= high:
            continue
        shading = _DARK if NOT_CHECKED in label else OCCUPIED
        axes.axvspan(max(a, low) / 1e6, min(b, high) / 1e6, zorder=0.5, **shading)
        number = _CHANNEL.match(label)
        middle = (max(a, low) + min(b, high)) / 2
        if number and min(b, high) - max(a, low) > (high - low) * 0.015:
            text = axes.annotate(
                number[1],
                (middle / 1e6, 1),
                xycoords=("data", "axes fraction"),
                xytext=(0, 2),
                textcoords="offset points",
                ha="center",
                fontsize=7 if high - low < _WIDE_HZ else 5.5,
                color="#555555",
            )
            text.set_in_layout(False)
    for y, row in enumerate(rows):
        _draw_row(axes, capacity, row, y, piece)
    axes.tick_params(labelsize=8)
    axes.tick_params(axis="y", length=0)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _draw_row(axes: Axes, capacity: Capacity, row: Row, y: int, piece: Span) -> None:
    low, high = piece
    colour = _COLOURS.get(row.verdict, _NO_VERDICT)
    spans = [(max(a, low), min(b, high)) for a, b in row.ranges_hz if a < high and b > low]
    for a, b in spans:
        axes.barh(
            y,
            (b - a) / 1e6,
            _BAR,
            a / 1e6,
            facecolor="none",
            edgecolor=colour,
            linewidth=0.8,
            zorder=3,
        )
    for a, b in _free(capacity, spans):
        axes.barh(
            y,
            (b - a) / 1e6,
            _BAR,
            a / 1e6,
            facecolor=colour,
            alpha=_FREE_ALPHA,
            linewidth=0,
            zorder=2,
        )
    tuned = [hz / 1e6 for hz in row.frequencies_hz if low <= hz <= high]
    axes.vlines(tuned, y - _BAR / 2, y + _BAR / 2, color=INK, linewidth=0.6, zorder=4)


def _draw_counts(axes: Axes, rows: Sequence[Row]) -> None:
    most = max([1, *(max(row.upper_bound, row.later) for row in rows)])
    wanted = max([1, *(row.later for row in rows)])
    wide = most > _MANY * wanted
    axes.set_ylim(max(1, len(rows)) - 0.5, -0.5)
    axes.set_yticks([])
    axes.set_title(" ", fontsize=7)
    if wide:
        axes.set_xscale("log")
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.set_xlim(0.8 if wide else 0, most * (1.5 if wide else 1.06))
    for y, row in enumerate(rows):
        colour = _COLOURS.get(row.verdict, _NO_VERDICT)
        axes.axhline(y, color="#e6e6e6", linewidth=0.6, zorder=0)
        axes.plot([row.fits, row.upper_bound], [y, y], color=colour, linewidth=1, zorder=2)
        axes.plot(
            [row.upper_bound], [y], "|", color=colour, markersize=9, markeredgewidth=1.6, zorder=2
        )
        axes.plot([row.fits], [y], "o", color=colour, markersize=6, zorder=4)
        if row.asked:
            axes.plot([row.asked], [y + 0.3], marker="^", color=INK, markersize=4.5, zorder=3)
            axes.plot([row.later], [y + 0.3], "^", mfc="white", mec=INK, markersize=4.5, zorder=3)
        verdict = row.verdict.split(":")[0] + ("; check" if row.check else "")
        bound = "" if row.upper_bound == row.fits else f", at most {row.upper_bound}"
        axes.annotate(
            f"{row.fits}{bound}: {verdict}",
            (1, y),
            xycoords=("axes fraction", "data"),
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            annotation_clip=False,
            fontsize=7.5,
            color=INK,
        )
    axes.set_xlabel("carriers (count, logarithmic)" if wide else "carriers (count)", fontsize=9)
    axes.tick_params(labelsize=8)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _legend(capacity: Capacity, rows: Sequence[Row], pieces: Sequence[Span]) -> list[Artist]:
    entries: list[Artist] = []
    shown = [
        label
        for a, b, label in capacity.spectrum.taken
        if any(a < high and b > low for low, high in pieces)
    ]
    if any(NOT_CHECKED not in label for label in shown):
        entries.append(Patch(label="taken or not allowed, with edge guard", **OCCUPIED))
    dark = any(NOT_CHECKED in label for label in shown)
    if dark or any(_outside(capacity, piece) for piece in pieces):
        entries.append(Patch(label="not checked", **_DARK))
    green = to_rgba(_COLOURS[COMFORTABLE], _FREE_ALPHA)
    free = "free in the tuning range, in the colour of its verdict"
    entries.append(
        Patch(facecolor=green, edgecolor=_COLOURS[COMFORTABLE], linewidth=0.8, label=free)
    )
    entries.append(_mark("a carrier that fits", "|", INK, size=8))
    for verdict, colour in _COLOURS.items():
        if any(row.verdict == verdict for row in rows):
            entries.append(_mark(f"fit: {verdict.split(':')[0]}", "o", colour))
    entries.append(_mark("no more can", "|", _NO_VERDICT, size=9))
    if any(row.asked for row in rows):
        entries.append(_mark("asked now", "^", INK, size=4.5))
        later = f"with spares in {capacity.years} years"
        entries.append(_mark(later, "^", INK, size=4.5, hollow=True))
    return entries


def _mark(label: str, marker: str, colour: str, *, size: float = 6, hollow: bool = False) -> Line2D:
    return Line2D(
        [],
        [],
        linestyle="none",
        marker=marker,
        color=colour,
        markersize=size,
        markerfacecolor="white" if hollow else colour,
        label=label,
    )


def _small_print(capacity: Capacity, known: Sequence[Row]) -> str:
    spectrum = capacity.spectrum
    lines = [
        "Estimates, not permissions: a scan on site confirms what is free. Taken: "
        f"{spectrum.source or 'no source given'} ({spectrum.as_of or 'without a date'}).",
    ]
    dark = [f"{row.profile} {row.band}" for row in capacity.rows if row not in known]
    if dark:
        shown = ", ".join(dark[:6]) + (f" and {len(dark) - 6} more" if len(dark) > 6 else "")
        lines.append(f"Not checked, and so not drawn: {shown}.")
    if len(known) > _MOST_ROWS:
        lines.append(f"{len(known) - _MOST_ROWS} more rows are not drawn; the CSV has all of them.")
    return "\n".join(lines)


def _outside(capacity: Capacity, piece: Span) -> list[Span]:
    """List what of a piece lies outside the ranges of the study."""
    return _minus([piece], list(capacity.spectrum.ranges_hz))


def _free(capacity: Capacity, spans: Sequence[Span]) -> list[Span]:
    dark = [part for span in spans for part in _outside(capacity, span)]
    return _minus(spans, [*dark, *((a, b) for a, b, _ in capacity.spectrum.taken)])


def _minus(spans: Sequence[Span], holes: Sequence[Span]) -> list[Span]:
    left = list(spans)
    for a, b in holes:
        parts = [part for low, high in left for part in ((low, min(high, a)), (max(low, b), high))]
        left = [(low, high) for low, high in parts if low < high]
    return left
