"""The anytime plot: how the gap to the best known value falls over time, method by method."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from sidon.bench.runner import Curve

__all__ = ["anytime_plot"]

# Okabe and Ito 2008, told apart with any colour vision; grey for the yellow, which print loses.
_COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000", "#7F7F7F")
_DASHES = ("-", "--", "-.", ":")
_POINTS = 200


def _gaps(curve: Curve, times: NDArray[np.float64]) -> NDArray[np.float64]:
    """Gap in per cent at each time; not a number before the first answer."""
    best = curve.row.best_known
    at = np.searchsorted(curve.time_s, times, side="right") - 1
    gaps = np.full(len(times), np.nan)
    if best is None or len(curve.value) == 0:
        return gaps
    worse = curve.value - best
    if curve.row.measure == "served":
        worse = -worse
    gaps[at >= 0] = 100.0 * worse[at[at >= 0]] / max(abs(best), 1)
    return gaps


def anytime_plot(curves: Sequence[Curve], path: Path) -> None:
    """Draw the mean gap over time, one line for each method, and save it.

    Runs that have no answer yet are left out of the mean; the line begins when half of a method's
    runs have one.

    Parameters
    ----------
    curves : sequence of Curve
        Runs of one family.
    path : pathlib.Path
        A file that matplotlib can write, such as ``anytime.png``.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7, 4.2), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    seconds = max((curve.row.seconds for curve in curves), default=1.0)
    times = np.geomspace(min(0.01, seconds / 10), seconds, _POINTS)
    methods = list(dict.fromkeys(curve.row.method for curve in curves))
    for i, method in enumerate(methods):
        own = [_gaps(c, times) for c in curves if c.row.method == method]
        stacked = np.array([gaps for gaps in own if not np.all(np.isnan(gaps))])
        if len(stacked) == 0:
            continue
        answered = ~np.isnan(stacked)
        counts = answered.sum(axis=0)
        mean = np.where(answered, stacked, 0).sum(axis=0) / np.maximum(counts, 1)
        mean[counts * 2 < len(stacked)] = np.nan
        axes.step(
            times,
            mean,
            where="post",
            label=method,
            color=_COLOURS[i % len(_COLOURS)],
            linestyle=_DASHES[i % len(_DASHES)],
            linewidth=1.8,
        )
    axes.set_xscale("log")
    axes.set_xlabel("time (s)")
    axes.set_ylabel("mean gap to best known (%)")
    if curves:
        runs = len({curve.row.seed for curve in curves})
        instances = len({curve.row.instance for curve in curves})
        axes.set_title(
            f"{curves[0].row.family}: {instances} instances, {runs} seed{'' if runs == 1 else 's'}"
        )
    axes.set_ylim(bottom=min(0.0, axes.get_ylim()[0]))
    axes.grid(visible=True, alpha=0.3)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(frameon=False, loc="center left", bbox_to_anchor=(1.0, 0.5))
    figure.savefig(path, dpi=150)
