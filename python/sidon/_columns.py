"""Tables as columns: a dict of numpy arrays that prints, and writes itself as CSV."""

from __future__ import annotations

import csv
import html
import io
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

from sidon._files import write_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["Columns", "frozen"]

_SHOWN = 10


class Columns(dict[str, NDArray[Any]]):
    """A table: a dict of one-dimensional numpy arrays of equal length.

    ``pandas.DataFrame(columns)`` and ``polars.DataFrame(columns)`` take it as it is.

    Examples
    --------
    >>> import sidon
    >>> table = sidon.hits([470_000_000, 470_400_000, 470_800_000], guards={"2A-B": 1})
    >>> table.n_rows
    2
    """

    @property
    def n_rows(self) -> int:
        """The number of rows."""
        return len(next(iter(self.values()), ()))

    def rows(self) -> Iterator[tuple[Any, ...]]:
        """Iterate over the rows, as plain Python values.

        Returns
        -------
        iterator of tuple
            One tuple per row, in the order of the columns.
        """
        return zip(*(column.tolist() for column in self.values()), strict=True)

    def to_csv(self, path: str | Path) -> None:
        """Write the table as comma-separated values, whole or not at all.

        Parameters
        ----------
        path : str or Path
            Where to; an existing file is replaced in one step.

        Raises
        ------
        OSError
            When it cannot be written; what stood there before still does.
        """
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(self)
        writer.writerows([_cell(value) for value in row] for row in self.rows())
        write_text(path, text.getvalue())

    def __repr__(self) -> str:
        lines = ["  ".join(self)]
        for i, row in enumerate(self.rows()):
            if i == _SHOWN:
                lines.append(f"... {self.n_rows - _SHOWN} more rows")
                break
            lines.append("  ".join(str(_cell(value)) for value in row))
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        head = "".join(f"<th>{html.escape(name)}</th>" for name in self)
        body = ""
        for i, row in enumerate(self.rows()):
            if i == _SHOWN:
                more = f"{self.n_rows - _SHOWN} more rows"
                body += f'<tr><td colspan="{len(self)}">{more}</td></tr>'
                break
            cells = "".join(f"<td>{html.escape(str(_cell(value)))}</td>" for value in row)
            body += f"<tr>{cells}</tr>"
        return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _cell(value: object) -> object:
    """One value as it stands in a table; several in one cell are parted by spaces."""
    return " ".join(map(str, value)) if isinstance(value, tuple) else value


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Make a fresh column read-only."""
    array.flags.writeable = False
    return array
