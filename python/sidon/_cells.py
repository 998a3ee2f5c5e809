"""Cells of a CSV file that no spreadsheet takes for a formula."""

from __future__ import annotations

__all__ = ["harmless"]

_FORMULA = frozenset("=+-@\t\r")


def harmless(cell: str) -> str:
    """Keep a spreadsheet from taking text for a formula; a plan or a table may come from anywhere.

    Parameters
    ----------
    cell : str
        The text of a cell that holds no number.

    Returns
    -------
    str
        The same, behind an apostrophe where it begins like a formula.

    Examples
    --------
    >>> from sidon._cells import harmless
    >>> harmless("Mic 1"), harmless("=1+1")
    ('Mic 1', "'=1+1")
    """
    return f"'{cell}" if cell[:1] in _FORMULA else cell
