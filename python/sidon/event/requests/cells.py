"""Reading the cells of a table of requests: text, numbers, lists, ranges, yes and no."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from pydantic_core import PydanticCustomError

from sidon._quantity import read_hz
from sidon._schema import shown

__all__ = [
    "CellError",
    "as_count",
    "as_flag",
    "as_frequencies",
    "as_names",
    "as_ranges",
    "as_spares",
    "as_text",
    "as_windows",
    "is_empty",
    "plain",
]

_YES = frozenset({"yes", "y", "true", "x", "1"})
_NO = frozenset({"no", "n", "false", "0"})
_DECIMAL_COMMA = re.compile(r"\d+,\d+")
_SPAN = re.compile(r"(.*?\S)\s*(?:-|\u2013|\u2014|\.\.|\bto\b)\s*(\S.*)")
_PARTS = re.compile(r"[;\n]")


class CellError(Exception):
    """A cell that cannot be read.

    Parameters
    ----------
    what : str
        What is wrong, with the value.
    remedy : str
        What to do about it.
    """

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


def is_empty(value: object) -> bool:
    """Tell whether nothing stands in a cell: no value, blank text, or a data frame's NaN."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return True
    if isinstance(value, list | tuple | Mapping):
        return not value
    # NaN and the missing values of data frames do not equal themselves, or refuse to say so.
    try:
        return not bool(value == value)
    except (TypeError, ValueError):
        return True


def as_text(value: object) -> str:
    """Read text; a number counts as the text a spreadsheet shows for it."""
    if isinstance(value, str):
        return value.strip()
    number = _number(value)
    if number is None or isinstance(value, bool):
        raise CellError(f"{shown(value)} is not text", "write text")
    return f"{int(number)}" if number == int(number) else f"{number:f}"


def as_names(value: object) -> list[str]:
    """Read one name, or several parted by semicolons or line ends."""
    if isinstance(value, list | tuple):
        return [as_text(entry) for entry in value]
    return [part.strip() for part in _PARTS.split(as_text(value)) if part.strip()]


def as_windows(value: object, known: Sequence[str], meaning: Mapping[str, str]) -> list[str]:
    """Read names of windows; commas part them too, where no window is named so.

    What a name means may be several windows, parted by semicolons.
    """
    found: list[str] = []
    for name in as_names(value):
        whole = name in known or plain(name) in meaning
        for part in [name] if whole else name.split(","):
            found += as_names(meaning.get(plain(part), part))
    return list(dict.fromkeys(found)) if meaning else found


def plain(text: str) -> str:
    """Leave out of a text what does not tell one from another: case and spacing."""
    return " ".join(text.split()).casefold()


def as_count(value: object, noun: str) -> int:
    """Read a whole number, however a spreadsheet wrote it."""
    number = _number(value)
    if number is None or isinstance(value, bool) or number != number.to_integral_value():
        raise CellError(f"{shown(value)} is not {noun}", "write a whole number in digits")
    if abs(number) > 1_000_000_000:
        raise CellError(f"{shown(value)} is too large for {noun}", "check it")
    return int(number)


def as_spares(value: object) -> int | str:
    """Read a number of spares, or a share such as "20 %"."""
    if isinstance(value, str) and value.strip().endswith("%"):
        return value.strip()
    try:
        return as_count(value, "a number of spares")
    except CellError as error:
        remedy = "write a whole number such as 2, or a share such as '20 %'"
        raise CellError(error.what, remedy) from None


def as_flag(value: object) -> bool:
    """Read yes or no."""
    word = ("yes" if value else "no") if isinstance(value, bool) else as_text(value).lower()
    if word not in _YES | _NO:
        raise CellError(f"{shown(value)} is neither yes nor no", "write yes or no")
    return word in _YES


def as_frequencies(value: object, decimal: str) -> list[int]:
    """Read frequencies in hertz, parted by semicolons; numbers without unit are MHz."""
    parts = value if isinstance(value, list | tuple) else _split(value)
    return [_hertz(part, decimal) for part in parts]


def as_ranges(value: object, decimal: str) -> list[tuple[int, int]]:
    """Read ranges in hertz, such as "518-542; 560-580 MHz", or pairs of numbers."""
    remedy = "write it low to high, such as 518-542, and part several by semicolons"
    if isinstance(value, list | tuple):
        pairs: list[Any] = [value] if not isinstance(value[0], list | tuple | str) else list(value)
    else:
        pairs = _split(value)
    found = []
    for pair in pairs:
        if isinstance(pair, str):
            match = _SPAN.fullmatch(pair)
            if match is None:
                raise CellError(f"{shown(pair)} is not a tuning range", remedy)
            low, high = match.groups()
            unit = re.search(r"[A-Za-z]+$", high)
            pair = [low + (f" {unit[0]}" if unit and low[-1].isdigit() else ""), high]
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise CellError(f"{shown(pair)} is not a tuning range", remedy)
        a, b = (_hertz(edge, decimal) for edge in pair)
        if a >= b:
            raise CellError(f"the tuning range {shown(value)} does not ascend", remedy)
        found.append((a, b))
    return found


def _split(value: object) -> list[Any]:
    if isinstance(value, str):
        return [part.strip() for part in _PARTS.split(value) if part.strip()]
    return [value]


def _hertz(value: object, decimal: str) -> int:
    if isinstance(value, str):
        number = value.split()[0] if value.split() else ""
        if decimal == ",":
            value = value.replace(".", "").replace(",", ".") if "," in value else value
        elif _DECIMAL_COMMA.fullmatch(number):
            remedy = "write a decimal point, or set decimal = ',' beside the columns"
            raise CellError(f"{shown(value)} has a decimal comma", remedy)
    try:
        hertz = read_hz(value)
    except PydanticCustomError as error:
        context = error.context or {}
        raise CellError(context["what"], context["remedy"]) from None
    if hertz <= 0:
        raise CellError(f"{shown(value)} is not above zero", "write a frequency in MHz")
    return hertz


def _number(value: object) -> Decimal | None:
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if not isinstance(value, str | int | float | Decimal):
        return None
    try:
        number = Decimal(repr(value) if isinstance(value, float) else str(value).strip())
    except InvalidOperation:
        return None
    return number if number.is_finite() and abs(number.adjusted()) < 30 else None
