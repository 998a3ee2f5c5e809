"""Frequencies and distances as files write them: exact text or numbers in MHz, hertz inside."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Any, NoReturn

from pydantic import AfterValidator, BeforeValidator, PlainSerializer
from pydantic_core import PydanticCustomError

from sidon.exceptions import UnreadableError
from sidon.units import mhz_text, parse_frequency

__all__ = ["Carrier", "Distance", "Range", "Step", "read_hz", "refuse"]

# No audio link is anywhere near 100 GHz: a bare number this large is another unit.
_LIMIT_HZ = 100_000_000_000
_SURELY_HERTZ_MHZ = 10_000_000
_EXAMPLE = "write it in MHz, such as 518.125, or with its unit, such as '518.125 MHz' or '350 kHz'"


def refuse(what: str, remedy: str) -> NoReturn:
    """Refuse what is being validated, with a remedy.

    Parameters
    ----------
    what : str
        What is wrong, with the offending value.
    remedy : str
        What to do about it.

    Raises
    ------
    PydanticCustomError
        Always.
    """
    # Pydantic fills braces in the template from the context, so the text itself cannot be one.
    kind, template = "sidon", "{what}"
    raise PydanticCustomError(kind, template, {"what": what, "remedy": remedy}) from None


def read_hz(value: object) -> int:
    """Read a frequency or distance exactly.

    Parameters
    ----------
    value : object
        Text with or without a unit, or a number; without a unit it is in MHz. Floats are read
        through their shortest text, so that 518.125 is 518,125,000 Hz and nothing beside it.

    Returns
    -------
    int
        Hertz; may be negative.

    Raises
    ------
    PydanticCustomError
        When it is no number, not a whole number of hertz, or looks like another unit.

    Examples
    --------
    >>> read_hz("518.125 MHz"), read_hz(518.125), read_hz("350 kHz"), read_hz(470)
    (518125000, 518125000, 350000, 470000000)
    """
    text = _as_text(value)
    try:
        hertz = parse_frequency(text)
    except UnreadableError as error:
        remedy = error.remedy if isinstance(value, str) else _EXAMPLE
        refuse(f"{_shown(value)} is not a frequency: {error.why}", remedy)
    if abs(hertz) >= _LIMIT_HZ:
        if text[-1].isdigit():
            _refuse_unit(hertz, text)
        refuse(f"{_shown(value)} is 100 GHz or more", "check the unit; " + _EXAMPLE)
    return hertz


def _as_text(value: object) -> str:
    """All digits of a number, or the text itself."""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        refuse(f"{_shown(value)} is not a frequency", _EXAMPLE)
    number = Decimal(repr(value) if isinstance(value, float) else value)
    if not number.is_finite():
        refuse(f"{value} is not a number", _EXAMPLE)
    # Far outside this, writing out all digits would fill the memory.
    if number and not -30 < number.adjusted() < 30:
        refuse(f"{_shown(number)} is out of range", _EXAMPLE)
    return f"{number:f}"


def _refuse_unit(hertz: int, text: str) -> NoReturn:
    """Say which unit a number far too large for MHz looks like, and how to write it."""
    number, fraction = divmod(hertz, 1_000_000)
    if fraction:
        refuse(f"{text} MHz is 100 GHz or more", "check the unit; " + _EXAMPLE)
    if abs(number) >= _SURELY_HERTZ_MHZ:
        what = f"{text} looks like hertz, but a number without unit is MHz"
        refuse(what, f"write {mhz_text(number)} MHz")
    what = f"{text} looks like hertz or kilohertz, but a number without unit is MHz"
    either = f"{mhz_text(number)} MHz if hertz is meant, {mhz_text(number * 1000)} MHz if kilohertz"
    refuse(what, f"write {either}")


def _shown(value: object) -> str:
    text = str(value) if isinstance(value, int | float | Decimal) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _carrier(hz: int) -> int:
    if hz <= 0:
        refuse(f"{mhz_text(hz)} MHz is not above zero", "write a frequency above 0 MHz")
    return hz


def _distance(hz: int) -> int:
    if hz < 0:
        refuse(f"{mhz_text(hz)} MHz is negative", "write 0 or a positive distance")
    return hz


def _step(hz: int) -> int:
    if hz <= 0:
        refuse(f"{mhz_text(hz)} MHz is not above zero", "write a step above zero")
    return hz


def _pair(value: object) -> object:
    remedy = "write two frequencies, low then high, such as [470, 608]"
    if isinstance(value, str) or not isinstance(value, Sequence):
        refuse(f"{_shown(value)} is not a pair of frequencies", remedy)
    if len(value) != 2:
        refuse(f"a range has two edges, not {len(value)}", remedy)
    return tuple(value)


def _ascending(pair: tuple[int, int]) -> tuple[int, int]:
    if pair[0] >= pair[1]:
        what = (
            f"the lower edge {mhz_text(pair[0])} MHz is not below the upper {mhz_text(pair[1])} MHz"
        )
        refuse(what, "write the lower edge first")
    return pair


def _written(hz: int) -> str:
    return f"{mhz_text(hz)} MHz"


_exact = BeforeValidator(read_hz)
_text: Any = PlainSerializer(_written, return_type=str)

Carrier = Annotated[int, _exact, AfterValidator(_carrier), _text]
"""A carrier or band edge in hertz, above zero."""
Distance = Annotated[int, _exact, AfterValidator(_distance), _text]
"""A distance in hertz, zero or more."""
Step = Annotated[int, _exact, AfterValidator(_step), _text]
"""A step in hertz, above zero."""
Range = Annotated[tuple[Carrier, Carrier], BeforeValidator(_pair), AfterValidator(_ascending)]
"""A range in hertz, lower edge first."""
