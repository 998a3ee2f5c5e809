"""A table as it was handed over: named columns of numbers, and texts where they are asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sidon.exceptions import Fault, InvalidProblemError

__all__ = ["Numbers", "Table", "from_frame"]

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Table:
    """Columns of one table.

    Parameters
    ----------
    source : str
        What it is called in messages.
    names : tuple of str
        Header of each column; empty where there is none.
    numbers : dict of int to numpy.ndarray
        The columns that hold numbers, by their index; NaN where a number is missing.
    texts : callable
        Given the index of a column, its cells as text.
    preamble : tuple of str
        Lines above the table.
    warnings : tuple of str
        What a reader must know about the reading.
    lines : numpy.ndarray, optional
        The line of the text each row stands on, counted from 1.
    """

    source: str
    names: tuple[str, ...]
    numbers: Mapping[int, Numbers]
    texts: Callable[[int], Sequence[str]]
    preamble: tuple[str, ...] = ()
    warnings: tuple[str, ...] = field(default=())
    lines: NDArray[np.int64] | None = None

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.names)

    def label(self, index: int) -> str:
        """Name a column in a message, counted from 1."""
        name = self.names[index]
        return f"{index + 1} {name!r}" if name else f"{index + 1}"

    def listing(self) -> str:
        """List all columns with their first value, for a message."""
        parts = []
        for index in range(self.width):
            column = self.numbers.get(index)
            if column is None:
                first = "text"
            else:
                sound = column[~np.isnan(column)]
                first = f"{sound[0]:.10g} to {sound[-1]:.10g}" if len(sound) else "no numbers"
            parts.append(f"{self.label(index)} ({first})")
        return ", ".join(parts)


def from_frame(frame: object, source: str) -> Table:
    """Take the columns of a data frame, or of a mapping of columns.

    Parameters
    ----------
    frame : pandas.DataFrame, polars.DataFrame or mapping
        One entry per column.
    source : str
        What to call it in messages.

    Returns
    -------
    Table
        The same columns.

    Raises
    ------
    InvalidProblemError
        It has no columns, or they differ in length.
    """
    columns = frame.keys() if isinstance(frame, Mapping) else getattr(frame, "columns", None)
    if columns is None:
        what = f"a {type(frame).__name__} is no data frame"
        remedy = "give a frame of pandas or polars, a mapping of columns, or use from_arrays"
        raise InvalidProblemError([Fault(source, what, remedy)])
    names = list(columns)
    cells: list[NDArray[Any]] = [np.asarray(frame[name]) for name in names]  # type: ignore[index]
    lengths = sorted({len(column) for column in cells})
    if len(lengths) > 1:
        what = f"columns of {lengths[0]} and {lengths[-1]} values"
        raise InvalidProblemError([Fault(source, what, "give columns of one length")])
    numbers = {}
    for index, column in enumerate(cells):
        found = _as_numbers(column)
        if found is not None:
            numbers[index] = found
    return Table(
        source=source,
        names=tuple(str(name) for name in names),
        numbers=numbers,
        texts=lambda index: [str(cell) for cell in cells[index].tolist()],
    )


def _as_numbers(column: NDArray[Any]) -> Numbers | None:
    if column.dtype.kind in "iuf":
        return column.astype(np.float64)
    if column.dtype.kind == "O":
        try:
            return np.array(
                [np.nan if cell is None else cell for cell in column.tolist()], dtype=np.float64
            )
        except (TypeError, ValueError):
            return None
    return None
