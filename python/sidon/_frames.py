"""Columns as a data frame of whichever library is installed."""

from __future__ import annotations

import importlib
from typing import Any

from numpy.typing import NDArray

__all__ = ["Framed"]


class Framed:
    """Something whose `columns` can be had as a data frame."""

    __slots__ = ()

    def columns(self) -> dict[str, NDArray[Any]]:
        """Return the columns."""
        raise AttributeError

    def frame(self) -> Any:  # noqa: ANN401 - whichever library is there
        """Return `columns` as a data frame.

        Returns
        -------
        pandas.DataFrame or polars.DataFrame
            pandas when it is installed, else polars.

        Raises
        ------
        ImportError
            When neither is installed; `columns` needs neither.
        """
        return _frame(self.columns())


def _frame(table: dict[str, NDArray[Any]]) -> Any:  # noqa: ANN401 - whichever library is there
    for library in ("pandas", "polars"):
        try:
            module = importlib.import_module(library)
        except ImportError:
            continue
        return module.DataFrame(
            {
                name: list(column) if column.dtype.kind == "U" else column
                for name, column in table.items()
            }
        )
    what = "a data frame needs pandas or polars; install one of them, or use columns()"
    raise ImportError(what)
