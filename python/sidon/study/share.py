"""Shares as a study writes them: a count, or so many in a hundred."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, PlainSerializer

from sidon._quantity import refuse

__all__ = ["Growth", "Spares", "of"]


def of(share: str, whole: int) -> int:
    """Count a share; part of a carrier is a carrier.

    Parameters
    ----------
    share : str
        As read: ``"2"`` or ``"20 %"``.
    whole : int
        What it is a share of.

    Returns
    -------
    int
        The count, rounded up.

    Examples
    --------
    >>> of("20 %", 12), of("2", 12)
    (3, 2)
    """
    if not share.endswith("%"):
        return int(share)
    return -(-whole * int(share.removesuffix(" %")) // 100)


def _spares(value: object) -> str:
    return _share(value, "a number of spares", "spares")


def _growth(value: object) -> str:
    return _share(value, "a growth", "more carriers")


def _share(value: object, what: str, noun: str) -> str:
    remedy = "write a whole number such as 2, or a share such as '20 %'"
    if isinstance(value, int) and not isinstance(value, bool):
        if not 0 <= value <= 10_000:
            refuse(f"{value} {noun} are not between 0 and 10,000", remedy)
        return str(value)
    share = value.replace(" ", "").removesuffix("%") if isinstance(value, str) else ""
    if not (isinstance(value, str) and value.strip().endswith("%")) or not share.isdecimal():
        refuse(f"{value!r} is not {what}", remedy)
    if int(share[:6]) > 1000:
        refuse(f"{value} of {noun} is above 1000 %", remedy)
    return f"{int(share)} %"


def _as_written(share: str) -> int | str:
    return share if share.endswith("%") else int(share)


Spares = Annotated[str, BeforeValidator(_spares), PlainSerializer(_as_written)]
"""Spares of so many required links."""
Growth = Annotated[str, BeforeValidator(_growth), PlainSerializer(_as_written)]
"""Carriers that are to be added to so many."""
