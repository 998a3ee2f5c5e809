"""Columns as a data frame of whichever library is installed."""

from __future__ import annotations

import importlib
from typing import Any

from numpy.typing import NDArray

__all__ = ["frame"]


def frame(table: dict[str, NDArray[Any]]) -> Any:  # noqa: ANN401 - whichever library is there
    """Put columns into a data frame.

    Parameters
    ----------
    table : dict of str to numpy.ndarray
        Columns of equal length.

    Returns
    -------
    pandas.DataFrame or polars.DataFrame
        pandas when it is installed, else polars.

    Raises
    ------
    ImportError
        When neither is installed.
    """
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
