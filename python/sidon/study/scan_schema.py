"""The shape of what a study says about scans: the file, how to read it, and what it is used for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from sidon._quantity import Distance, refuse

__all__ = ["HeardContent", "HeardRange", "ScanOptions", "ScanUse", "Use"]

Use = Literal["exclude", "prefer"]
Hertz = Annotated[int, Field(strict=True, ge=0)]
Column = Annotated[str, Field(strict=True, min_length=1)] | Annotated[int, Field(strict=True, ge=1)]


def _number(what: str) -> Callable[[object], object]:
    def read(value: object) -> object:
        # A fraction in a file of TOML is read exactly, as a Decimal.
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            refuse(f"{value!r} is not a number", f"write a number of {what}")
        return value

    return read


Decibels = Annotated[
    float,
    BeforeValidator(_number("decibels, such as 5")),
    Field(ge=0, le=100, allow_inf_nan=False),
]
Level = Annotated[
    float,
    BeforeValidator(_number("dBm, such as -90")),
    Field(ge=-250, le=50, allow_inf_nan=False),
]
Count = Annotated[int, Field(strict=True, ge=1, le=1_000_000)]
Note = Annotated[str, Field(strict=True, max_length=200)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class HeardRange(_Part):
    """A range that a scan found in use, and why it is kept clear."""

    low_hz: Hertz
    high_hz: Hertz
    reason: Annotated[str, Field(min_length=1, max_length=80)]


class HeardContent(_Part):
    """What was read from the file of a scan, so that the study stands alone.

    Parameters
    ----------
    name : str
        The scan's name.
    heard_hz : list of (int, int)
        What it covers.
    exclusions : list of HeardRange
        What it found in use.
    first_hz, step_hz : int
        Lower edge of the first cell, and their width.
    excess_db : list of int or None
        Power of each cell above the floor; None where it was not heard.
    cautions : list of str
        What a reader must mind.
    occupied_hz : list of (int, int)
        What stood above the threshold, not widened.
    """

    name: str
    heard_hz: list[tuple[Hertz, Hertz]]
    exclusions: list[HeardRange]
    first_hz: Hertz
    step_hz: Annotated[int, Field(strict=True, gt=0)]
    excess_db: list[int | None]
    cautions: list[str] = []
    occupied_hz: list[tuple[Hertz, Hertz]] = []


def _uses(value: object) -> object:
    return [value] if isinstance(value, str) else value


def _widths(value: object) -> object:
    if isinstance(value, list | tuple):
        return list(value)
    return value


class ScanOptions(_Part):
    """How the file of a scan is read, and what it is used for.

    Parameters
    ----------
    use : list of str
        ``"exclude"``: keep clear of what it found in use; ``"prefer"``: prefer what it found
        quiet. Both unless given.
    frequency, level, sweep : str, int or list, optional
        Columns, by name or by number from 1.
    frequency_unit, level_unit, delimiter, decimal : str, optional
        As for `sidon.Scan.from_file`.
    resolution_bandwidth : int, optional
        In hertz; a study writes MHz or text.
    averages, averaged_in, held
        What one level is made of.
    taken : date, optional
        When.
    spot, antenna : str
        Notes.
    above_db, threshold_dbm, false_hits, bridge
        When it counts as in use.
    widen : int, optional
        What is kept clear on either side. Unless given, 250 kHz from the middle of it: what a
        carrier of usual equipment needs.
    """

    use: Annotated[list[Use], BeforeValidator(_uses), Field(min_length=1)] = ["exclude", "prefer"]
    frequency: Column | None = None
    level: Annotated[list[Column] | Column | None, BeforeValidator(_widths)] = None
    sweep: Column | None = None
    frequency_unit: Note | None = None
    level_unit: Note | None = None
    delimiter: Annotated[str, Field(strict=True, min_length=1, max_length=1)] | None = None
    decimal: Literal[".", ","] | None = None
    resolution_bandwidth: Distance | None = None
    averages: Count = 1
    averaged_in: Literal["power", "decibels"] = "power"
    held: Count = 1
    taken: dt.date | None = None
    spot: Note = ""
    antenna: Note = ""
    above_db: Decibels = 5.0
    threshold_dbm: Level | None = None
    false_hits: Annotated[
        float, BeforeValidator(_number("points")), Field(ge=1e-9, le=1e9, allow_inf_nan=False)
    ] = 1.0
    bridge: Distance = 100_000
    widen: Distance | None = None


class ScanUse(ScanOptions):
    """A scan of a study.

    Parameters
    ----------
    file : str, optional
        Where it was read from.
    heard : HeardContent
        What was read.
    """

    file: str | None = None
    heard: HeardContent

    @model_validator(mode="before")
    @classmethod
    def _of_a_file(cls, data: object) -> object:
        if isinstance(data, Mapping) and "heard" not in data:
            refuse("the scan names no file", 'write file = "scan.csv"')
        return data
