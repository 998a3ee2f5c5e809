"""How a scan writes lines of a file inside a sentence."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["lines_text"]

_SHOWN = 5


def lines_text(lines: Sequence[int]) -> str:
    """Name lines of a text, the first few of many.

    Parameters
    ----------
    lines : sequence of int
        Counted from 1; at least one.

    Returns
    -------
    str
        In words.

    Examples
    --------
    >>> lines_text([7])
    'line 7'
    >>> lines_text(range(3, 10))
    'lines 3, 4, 5, 6, 7 and 2 more'
    """
    if len(lines) == 1:
        return f"line {lines[0]}"
    more = f" and {len(lines) - _SHOWN:,} more" if len(lines) > _SHOWN else ""
    return f"lines {', '.join(str(line) for line in lines[:_SHOWN])}{more}"
