"""The picture of a scan: traces, floor and threshold over frequency, what is occupied, and gaps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from sidon.units import mhz_text
from sidon.view.files import save_figure
from sidon.view.marks import EXCLUDED, INK, OCCUPIED, Shading

if TYPE_CHECKING:
    from sidon.spectrum.scan import Scan
    from sidon.spectrum.scan.heard import Heard
    from sidon.spectrum.scan.rule import Threshold

__all__ = ["save_scan", "scan_figure"]

Span = tuple[int, int]
Curve = tuple[NDArray[np.float64], NDArray[np.float64]]

_ROW_HZ = 80_000_000
_MOST_ROWS = 5
_APART_HZ = 24_000_000
"""A longer stretch that was not heard is left out: four TV channels of 6 MHz."""

_BINS = 1_800
"""Points drawn per row: about as many as there are dots across a page."""

# Okabe and Ito (2008), told apart by colour-blind readers; each differs in lightness as well.
_HELD = ("#0072B2", "#D55E00", "#009E73", "#CC79A7")
_MEAN = "#E69F00"
_OCCUPIED_HERE: Shading = {
    "facecolor": "#cfe8f7",
    "edgecolor": "none",
    "linewidth": 0,
    "hatch": None,
}


def scan_figure(
    heard: Heard,
    *,
    channels: Mapping[Any, Span] | None = None,
    listed: Iterable[Any] = (),
    threshold: Threshold | None = None,
) -> Figure:
    """Draw what was heard.

    Parameters
    ----------
    heard : Heard
        One scan or several.
    channels : mapping, optional
        Edges in hertz of TV channels by number.
    listed : iterable, optional
        Channels that a table calls occupied.
    threshold : mapping, optional
        How occupancy is decided; see `Scan.occupied`.

    Returns
    -------
    matplotlib.figure.Figure
        Rows of frequency. Many points are drawn as the highest of each dot's width, so that no
        carrier is lost.
    """
    by: Threshold = threshold or {}
    names = {str(name) for name in listed}
    rows = _rows(heard.spans)
    figure = Figure(figsize=(11.7, 1.6 + 2.5 * len(rows)), dpi=150, layout="constrained")
    FigureCanvasAgg(figure)
    parts = figure.subplots(len(rows), 1, squeeze=False)[:, 0]
    bottom, top = _levels(heard)
    for axes, row in zip(parts, rows, strict=True):
        axes.set_xlim(row[0] / 1e6, row[1] / 1e6)
        axes.set_ylim(bottom, top)
        _shade(axes, heard, row, channels or {}, names, by)
        for place, scan in enumerate(heard.scans):
            _traces(axes, scan, row, _HELD[place % len(_HELD)], by, alone=len(heard.scans) == 1)
        if after := _left_out(heard.spans, row):
            axes.set_xlabel(after, fontsize=8, loc="right", color=INK)
        axes.set_ylabel(_level_label(heard), fontsize=8)
        axes.tick_params(labelsize=8)
        axes.grid(axis="y", color="#e6e6e6", linewidth=0.5, zorder=0)
        axes.set_axisbelow(True)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    parts[-1].set_xlabel("frequency (MHz)", fontsize=9)
    figure.suptitle(_title(heard), fontsize=11, color=INK)
    figure.legend(
        handles=_legend(heard, channels or {}, names, rows),
        loc="outside lower center",
        ncols=4,
        fontsize=8,
        frameon=False,
    )
    return figure


def save_scan(
    heard: Heard,
    path: str | Path,
    *,
    channels: Mapping[Any, Span] | None = None,
    listed: Iterable[Any] = (),
    threshold: Threshold | None = None,
) -> None:
    """Draw what was heard into a file, whole or not at all.

    Parameters
    ----------
    heard : Heard
        One scan or several.
    path : str or Path
        Where to; the ending decides the format (png, pdf, svg).
    channels, listed, threshold
        As for `scan_figure`.

    Raises
    ------
    ValueError
        When the ending names no format.
    OSError
        When it cannot be written; what stood there before still does.
    """
    figure = scan_figure(heard, channels=channels, listed=listed, threshold=threshold)
    save_figure(figure, path)


def _rows(spans: Sequence[Span]) -> list[Span]:
    """Cut what was heard into rows of frequency; what lies far apart stands in different rows."""
    pieces: list[Span] = []
    for low, high in spans:
        if pieces and low - pieces[-1][1] <= _APART_HZ:
            pieces[-1] = (pieces[-1][0], high)
        else:
            pieces.append((low, high))
    total = sum(high - low for low, high in pieces)
    width = max(_ROW_HZ, total / max(1, _MOST_ROWS - len(pieces) + 1))
    rows = []
    for low, high in pieces:
        count = math.ceil((high - low) / width)
        edges = np.linspace(low, high, count + 1).round().astype(int).tolist()
        rows += list(pairwise(edges))
    return rows


def _left_out(spans: Sequence[Span], row: Span) -> str:
    """Say what was not heard between a row and the next, where that is not drawn."""
    following = [low for low, _ in spans if low > row[1]]
    if not following or not any(high == row[1] for _, high in spans):
        return ""
    low, high = mhz_text(row[1]), mhz_text(min(following))
    return f"not heard, not known, and not drawn: {low}-{high} MHz"


def _levels(heard: Heard) -> tuple[float, float]:
    tops = [float(scan.max_hold().max()) for scan in heard.scans]
    floors = [float(scan.floor().min()) for scan in heard.scans]
    return 10 * math.floor((min(floors) - 6) / 10), 10 * math.ceil((max(tops) + 4) / 10)


def _shade(
    axes: Axes,
    heard: Heard,
    row: Span,
    channels: Mapping[Any, Span],
    listed: set[str],
    by: Threshold,
) -> None:
    low, high = row
    _spans(axes, heard.coverage([row]).missing, EXCLUDED, zorder=0.3)
    # A carrier of a few kilohertz stays visible across a hundred megahertz.
    least = (high - low) // 600
    seen = []
    for found in heard.occupied(**by):
        if found.high_hz > low and found.low_hz < high:
            pad = max(0, (least - found.width_hz) // 2)
            seen.append((max(low, found.low_hz - pad), min(high, found.high_hz + pad)))
    _spans(axes, seen, _OCCUPIED_HERE, zorder=0.5)
    for name, (a, b) in channels.items():
        if b <= low or a >= high:
            continue
        left, right = max(a, low), min(b, high)
        whole = axes.get_xaxis_transform()
        if str(name) in listed:
            axes.fill_between(
                [left / 1e6, right / 1e6],
                1.0,
                1.07,
                transform=whole,
                color=OCCUPIED["facecolor"],
                linewidth=0,
                clip_on=False,
            )
        ends = [x / 1e6 for x in (a, b) if low <= x <= high]
        axes.vlines(ends, 0, 1.07, transform=whole, color="#bbbbbb", linewidth=0.4, clip_on=False)
        if right - left > (high - low) * 0.02:
            axes.text(
                (left + right) / 2e6,
                1.033,
                str(name),
                transform=whole,
                ha="center",
                va="center",
                fontsize=7,
                color=INK,
            )


def _spans(axes: Axes, spans: Iterable[Span], shading: Shading, *, zorder: float) -> None:
    """Shade pieces over the whole height; thousands of them are one object to draw."""
    bars = [(a / 1e6, (b - a) / 1e6) for a, b in spans]
    axes.broken_barh(bars, (0, 1), transform=axes.get_xaxis_transform(), zorder=zorder, **shading)


def _traces(axes: Axes, scan: Scan, row: Span, colour: str, by: Threshold, *, alone: bool) -> None:
    where = scan.frequency_hz
    inside = slice(*np.searchsorted(where, [row[0], row[1] + 1]).tolist())
    if inside.stop - inside.start < 1:
        return
    edges = scan.spans
    held = _curve(where[inside], scan.max_hold()[inside], edges, highest=True)
    axes.plot(*held, color=colour, linewidth=0.7, zorder=3)
    if alone and len(scan.levels_dbm) > 1:
        mean = _curve(where[inside], scan.mean()[inside], edges, highest=True)
        axes.plot(*mean, color=_MEAN, linewidth=0.6, zorder=2.5)
    floor = _curve(where[inside], scan.floor(**by)[inside], edges, highest=False)
    limit = _curve(where[inside], scan.threshold(**by)[inside], edges, highest=False)
    axes.plot(*floor, color=INK if alone else colour, linewidth=1.0, linestyle="--", zorder=4)
    axes.plot(*limit, color=INK if alone else colour, linewidth=1.0, linestyle=":", zorder=4)


def _curve(
    hertz: NDArray[np.int64],
    levels: NDArray[np.float64],
    spans: Sequence[Span],
    *,
    highest: bool,
) -> Curve:
    """Thin a trace to about one point per dot, and break it where nothing was heard."""
    if len(hertz) > 2 * _BINS:
        starts = np.linspace(0, len(hertz), _BINS + 1).astype(np.int64)[:-1]
        levels = np.maximum.reduceat(levels, starts) if highest else levels[starts]
        hertz = hertz[starts]
    piece = np.searchsorted([low for low, _ in spans], hertz, side="right")
    cuts = np.flatnonzero(np.diff(piece)) + 1
    x = np.insert(hertz / 1e6, cuts, np.nan)
    return x, np.insert(levels, cuts, np.nan)


def _level_label(heard: Heard) -> str:
    widths = {scan.resolution_bandwidth_hz for scan in heard.scans}
    width = widths.pop() if len(widths) == 1 else None
    if not width:
        return "level (dBm)"
    shown = f"{width / 1e3:g} kHz" if width >= 1_000 else f"{width} Hz"
    return f"level (dBm in {shown})"


def _title(heard: Heard) -> str:
    parts = []
    for scan in heard.scans:
        count = len(scan.levels_dbm)
        about = [f"{count} sweep{'' if count == 1 else 's'}"]
        if scan.taken is not None:
            about.append(f"taken {scan.taken.isoformat()}")
        if scan.spot:
            about.append(scan.spot)
        parts.append(f"{scan.name or 'Scan'} ({', '.join(about)})")
    shown = parts[:3] + ([f"and {len(parts) - 3} more"] if len(parts) > 3 else [])
    return "; ".join(shown)


def _legend(
    heard: Heard, channels: Mapping[Any, Span], listed: set[str], rows: Sequence[Span]
) -> list[Artist]:
    alone = len(heard.scans) == 1
    entries: list[Artist] = []
    for place, scan in enumerate(heard.scans):
        label = "level" if len(scan.levels_dbm) == scan.facts.held == 1 else "max hold"
        if len(scan.frequency_hz) > 2 * _BINS * _MOST_ROWS:
            label += " (highest across a dot)"
        if not alone:
            label += f", {scan.name or f'scan {place + 1}'}"
        entries.append(Line2D([], [], color=_HELD[place % len(_HELD)], label=label))
    if alone and len(heard.scans[0].levels_dbm) > 1:
        entries.append(Line2D([], [], color=_MEAN, label="mean power"))
    entries += [
        Line2D([], [], color=INK, linestyle="--", label="noise floor (estimate)"),
        Line2D([], [], color=INK, linestyle=":", label="threshold"),
        Patch(label="occupied", **_OCCUPIED_HERE),
    ]
    if heard.coverage(rows).missing:
        entries.append(Patch(label="not heard: not known", **EXCLUDED))
    if channels and any(str(name) in listed for name in channels):
        entries.append(Patch(label="listed as occupied TV channel", **OCCUPIED))
    return entries
