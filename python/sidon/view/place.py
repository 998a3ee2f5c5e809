"""The picture of a place: every TV channel with its status, and fields against their limits."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TypedDict

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from sidon.spectrum.report import PlaceReport
from sidon.spectrum.status import Entry, Status
from sidon.view.files import save_figure

__all__ = ["place", "save_place"]


class _Look(TypedDict):
    """How a status is drawn."""

    facecolor: str
    edgecolor: str
    hatch: str


# Okabe and Ito (2008), told apart by colour-blind readers; hatches tell them apart in grey.
_LOOKS: dict[Status, _Look] = {
    "usable": {"facecolor": "#7fd0b8", "edgecolor": "#00664b", "hatch": ""},
    "adjacent": {"facecolor": "#f6d48a", "edgecolor": "#8a5f00", "hatch": ".."},
    "blocked": {"facecolor": "#e8a27a", "edgecolor": "#7a3400", "hatch": "xx"},
    "not allowed": {"facecolor": "#bdbdbd", "edgecolor": "#4d4d4d", "hatch": "\\\\"},
    "not checked": {"facecolor": "#ffffff", "edgecolor": "#777777", "hatch": "//"},
}
_MEANING: dict[Status, str] = {
    "usable": "usable",
    "adjacent": "usable, guard beside TV",
    "blocked": "blocked by TV",
    "not allowed": "not allowed",
    "not checked": "not checked (not free)",
}
_FIELD = "#0072B2"
_LIMIT = "#000000"
_GAP_HZ = 60_000_000
"""A wider gap between channels begins a new row."""
_MOST_FIELD = 130.0
"""The scale ends here: beside a transmitter the figure says nothing more."""
_STRIP = 0.16
"""Share of the height that the status of the channels takes."""


def place(report: PlaceReport, *, title: str = "") -> Figure:
    """Draw the status of every TV channel at a place.

    Parameters
    ----------
    report : PlaceReport
        The report.
    title : str, optional
        What to call the place.

    Returns
    -------
    Figure
        A row for each run of channels. Below each channel stands the field of the station on it
        that decides, in dBuV/m, against the field at its protected contour.
    """
    rows = _rows([entry for entry in report.entries if entry.channel])
    heights = [2.6 if any(_own(entry) for entry in row) else 0.9 for row in rows] or [1.0]
    figure = Figure(figsize=(12, 1.4 + sum(heights)), layout="constrained", dpi=130)
    ratios = {"height_ratios": heights}
    axes = figure.subplots(len(heights), 1, squeeze=False, gridspec_kw=ratios)[:, 0]
    top = _top(report)
    for row, ax in zip(rows, axes, strict=False):
        _draw(ax, row, top)
    if not rows:
        axes[0].text(0.5, 0.5, "the region has no TV channels", ha="center", va="center")
        axes[0].set_axis_off()
    axes[-1].set_xlabel("frequency (MHz)", fontsize=9)
    figure.suptitle(_title(report, title), fontsize=10, x=0.01, ha="left", parse_math=False)
    used = [status for status in _LOOKS if any(e.status == status for row in rows for e in row)]
    figure.legend(
        handles=_legend(used, fields=any(_own(e) for row in rows for e in row)),
        loc="outside lower center",
        ncols=4,
        fontsize=8,
        frameon=False,
    )
    return figure


def save_place(report: PlaceReport, path: str | Path, *, title: str = "") -> None:
    """Draw the status of every TV channel at a place into a file, whole or not at all.

    Parameters
    ----------
    report : PlaceReport
        The report.
    path : str or Path
        Where to; the ending decides the format (png, pdf, svg).
    title : str, optional
        What to call the place.

    Raises
    ------
    ValueError
        When the ending names no format.
    OSError
        When it cannot be written; what stood there before still does.
    """
    save_figure(place(report, title=title), path)


def _rows(entries: Sequence[Entry]) -> list[list[Entry]]:
    rows: list[list[Entry]] = []
    for entry in entries:
        if rows and entry.low_hz - rows[-1][-1].high_hz < _GAP_HZ:
            rows[-1].append(entry)
        else:
            rows.append([entry])
    return rows


def _own(entry: Entry) -> bool:
    """Whether the deciding station is on the channel itself."""
    return entry.reach is not None and entry.reach.channel.name == entry.channel


def _top(report: PlaceReport) -> float:
    """Return the end of the scale of fields, one for all rows."""
    levels = [50.0]
    for entry in report.entries:
        if entry.reach is not None and _own(entry):
            levels += [entry.reach.field_dbuv_m, entry.reach.threshold_dbuv_m]
    # Room for a word above the tallest bar.
    return min(10 * (max(levels) // 10 + 2), _MOST_FIELD)


def _draw(ax: Axes, row: Sequence[Entry], top: float) -> None:
    strip = top * _STRIP
    for entry in row:
        low, high = entry.low_hz / 1e6, entry.high_hz / 1e6
        look = _LOOKS[entry.status]
        ax.add_patch(Rectangle((low, top), high - low, strip, linewidth=0.8, **look))
        ax.text(
            (low + high) / 2,
            top + strip / 2,
            entry.channel,
            ha="center",
            va="center",
            fontsize=8,
            bbox={"boxstyle": "round,pad=0.15", "facecolor": "white", "linewidth": 0},
        )
        if entry.reach is not None and _own(entry):
            _bar(ax, entry, low, high, top)
    ax.set_xlim(row[0].low_hz / 1e6 - 1, row[-1].high_hz / 1e6 + 1)
    ax.tick_params(labelsize=8)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    if not any(_own(entry) for entry in row):
        # Without a station there is no field to show.
        ax.set_ylim(top, top + strip)
        ax.set_yticks([])
        ax.spines["left"].set_visible(False)
        return
    ax.axhline(top, color="#444444", linewidth=0.8)
    ax.set_ylim(0, top + strip)
    ax.set_yticks(list(range(0, int(top) + 1, 20)))
    ax.set_ylabel("field (dBuV/m)", fontsize=8)
    ax.grid(axis="y", color="#e0e0e0", linewidth=0.6)
    ax.set_axisbelow(True)


def _bar(ax: Axes, entry: Entry, low: float, high: float, top: float) -> None:
    reach = entry.reach
    if reach is None:
        return
    width = high - low
    field = min(max(reach.field_dbuv_m, 0), top)
    ax.add_patch(
        Rectangle((low + 0.2 * width, 0), 0.6 * width, field, facecolor=_FIELD, linewidth=0)
    )
    limit = reach.threshold_dbuv_m
    ax.plot([low, high], [limit, limit], color=_LIMIT, linewidth=1.6)
    # Beside the field at the place, the margin in distance: it is what the rule goes by.
    ax.text(
        (low + high) / 2,
        min(max(field, limit) + 0.02 * top, 0.9 * top),
        f"{reach.margin_km:+.0f}",
        ha="center",
        va="bottom",
        fontsize=7,
        color="white" if field > 0.9 * top else "black",
    )


def _title(report: PlaceReport, title: str) -> str:
    where = f", {report.where}" if report.where else ""
    model = f" Fields: {report.propagation.words}." if report.reaches else ""
    date = f", list of {report.terms.as_of}" if report.terms.as_of else ""
    head = f"{title or report.region.title}{where}{date}"
    others = " Other bands are not drawn." if any(not e.channel for e in report.entries) else ""
    lines = [*textwrap.wrap(head, 130), f"Estimates, not permissions.{model}{others}"]
    return "\n".join(lines)


def _legend(used: Sequence[Status], *, fields: bool) -> list[Artist]:
    entries: list[Artist] = [Patch(label=_MEANING[s], linewidth=0.8, **_LOOKS[s]) for s in used]
    if fields:
        entries += [
            Patch(facecolor=_FIELD, label="field of the station on the channel"),
            Line2D([], [], color=_LIMIT, linewidth=1.6, label="field at its protected contour"),
            Line2D(
                [], [], linestyle="none", label="number: km outside (+), inside (-) the contour"
            ),
        ]
    return entries
