"""Writing a figure: whole or not at all, and the same file for the same figure."""

from __future__ import annotations

from pathlib import Path

import matplotlib
from matplotlib.figure import Figure

from sidon._files import write_with

__all__ = ["save_figure"]

_KNOWN = ("png", "pdf", "svg")


def save_figure(figure: Figure, path: str | Path) -> None:
    """Write a figure into a file, whole or not at all.

    Parameters
    ----------
    figure : Figure
        What to write.
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
    kind = path.suffix.lower().removeprefix(".")
    if kind not in _KNOWN:
        what = f"{path.name}: cannot draw {kind or 'without an ending'!r}; use {', '.join(_KNOWN)}"
        raise ValueError(what)
    # Without a date, and with names that are not drawn by lot, one figure gives one file.
    undated: dict[str, str | None] = {"pdf": "CreationDate", "svg": "Date"}
    metadata = {undated[kind]: None} if kind in undated else {}
    with matplotlib.rc_context({"svg.hashsalt": "sidon"}):
        write_with(path, lambda file: figure.savefig(file, format=kind, metadata=metadata))
