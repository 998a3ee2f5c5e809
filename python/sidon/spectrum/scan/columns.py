"""Which column of a table is the frequency, which the level, and which tells sweeps apart."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan.table import Numbers, Table
from sidon.spectrum.scan.units import frequency_unit_in, level_unit_in

__all__ = ["Choice", "ColumnName", "choose"]

ColumnName = str | int
"""A column by its header, or by its number counted from 1."""

_NOT_FREQUENCY = re.compile(r"rbw|vbw|bandwidth|span|step|width|resolution|offset|limit", re.I)
_FREQUENCY = re.compile(r"freq|fr[eé]q|\bf\b", re.I)
_LEVEL = re.compile(
    r"level|power|ampl|magn|psd|pegel|signal|trace|dbm|db[uµμ]v|rssi|hold|average|sweep|scan",
    re.I,
)
_NOT_LEVEL = re.compile(
    r"limit|threshold|reference|ref\b|time|date|index|point|number|\bno\b", re.I
)
_SWEEP = re.compile(
    r"^\s*(?:(?:sweep|scan|pass|run|trace|frame)[\s_]*(?:no|nr|number|id|index|#)?\.?"
    r"|(?:time|date|timestamp).*)\s*$",
    re.I,
)
_MAXIMUM = re.compile(r"max|peak", re.I)
_REDUCED = re.compile(r"max|peak|min|av(era)?ge?\b|mean|median", re.I)


@dataclass(frozen=True)
class Choice:
    """The columns that are used.

    Parameters
    ----------
    frequency : int
        Index of the frequencies.
    levels : tuple of int
        Indices of the levels: one, or one per sweep.
    sweep : int or None
        Index of the column that tells sweeps apart.
    warnings : tuple of str
        What was chosen among several.
    """

    frequency: int
    levels: tuple[int, ...]
    sweep: int | None
    warnings: tuple[str, ...] = ()


def choose(
    table: Table,
    *,
    frequency: ColumnName | None,
    level: ColumnName | Sequence[ColumnName] | None,
    sweep: ColumnName | None,
) -> Choice:
    """Choose the columns, as named or by what they are called and hold.

    Parameters
    ----------
    table : Table
        What was read.
    frequency, level, sweep : str or int, optional
        Columns by name or by number from 1; several levels are one sweep each.

    Returns
    -------
    Choice
        Indices from 0.

    Raises
    ------
    InvalidProblemError
        A named column is not there, or the choice is open; the message lists the columns.
    """
    faults: list[Fault] = []

    def named(name: ColumnName, option: str) -> int | None:
        index = _find(table, name)
        if index is None:
            what = f"there is no column {name!r} in {table.source}"
            faults.append(Fault(option, what, f"choose among {table.listing()}"))
        elif option != "sweep" and index not in table.numbers:
            what = f"column {table.label(index)} holds no numbers"
            faults.append(Fault(option, what, f"choose among {table.listing()}"))
            return None
        return index

    levels: list[int | None] = []
    if level is not None:
        names = [level] if isinstance(level, str | int) else list(level)
        levels = [named(name, "level") for name in names]
    by = named(sweep, "sweep") if sweep is not None else None
    where = named(frequency, "frequency") if frequency is not None else None
    chosen = [index for index in levels if index is not None]
    if where is None and frequency is None:
        try:
            where = _frequency(table, {*chosen, by})
        except InvalidProblemError as error:
            faults += error.faults
    if faults or where is None:
        raise InvalidProblemError(faults)
    if by is None and sweep is None:
        by = next(
            (
                i
                for i, name in enumerate(table.names)
                if _SWEEP.search(name)
                and not level_unit_in(name)
                and i != where
                and i not in chosen
                and _tells_apart(table, i, where)
            ),
            None,
        )
    warnings: tuple[str, ...] = ()
    if not chosen:
        chosen, warnings = _levels(table, where, by)
    if where in chosen:
        what = f"column {table.label(where)} is named both frequency and level"
        raise InvalidProblemError([Fault("level", what, f"choose among {table.listing()}")])
    return Choice(where, tuple(chosen), by, warnings)


def _find(table: Table, name: ColumnName) -> int | None:
    if isinstance(name, int):
        return name - 1 if 1 <= name <= table.width else None
    wanted = name.strip().casefold()
    exact = [i for i, header in enumerate(table.names) if header.strip().casefold() == wanted]
    if exact:
        return exact[0]
    parts = [i for i, header in enumerate(table.names) if wanted and wanted in header.casefold()]
    if len(parts) == 1:
        return parts[0]
    if wanted.isdecimal() and not parts:
        return _find(table, int(wanted))
    return None


def _tells_apart(table: Table, index: int, frequency: int) -> bool:
    """Whether a column numbers sweeps: the rows of each of its entries span most of the band."""
    where = table.numbers[frequency]
    if bool(np.all(np.diff(where) > 0)):
        return False
    column = table.numbers.get(index)
    if column is None:
        labels, which = np.unique(np.asarray(table.texts(index)), return_inverse=True)
    else:
        labels, which = np.unique(column, return_inverse=True)
    if len(labels) > len(where) // 2 or len(which) != len(where):
        return False
    low, high = np.full(len(labels), np.inf), np.full(len(labels), -np.inf)
    np.fmin.at(low, which, where)
    np.fmax.at(high, which, where)
    return float(np.median(high - low)) >= float(np.nanmax(where) - np.nanmin(where)) / 2


def _frequency(table: Table, taken: set[int | None]) -> int:
    columns = [i for i in table.numbers if i not in taken]
    named = [i for i in columns if _is_frequency_name(table.names[i])]
    if not named:
        named = [i for i in columns if _rises(table.numbers[i]) and _may_be_frequency(table, i)]
    if not named:
        # Not in order; levels are not all positive.
        named = [
            i for i in columns if not _LEVEL.search(table.names[i]) and _positive(table.numbers[i])
        ]
    if len(named) > 1:
        both = "two columns" if len(named) == 2 else f"{len(named)} columns"
        labels = " and ".join(table.label(i) for i in named)
        what = f"{both} of {table.source} look like frequency: {labels}"
        remedy = f"name the one with frequency=, by its name or its number; {table.listing()}"
        raise InvalidProblemError([Fault("frequency", what, remedy)])
    if not named:
        what = f"no column of {table.source} looks like frequency"
        remedy = f"name it with frequency=, by its name or its number; {table.listing()}"
        raise InvalidProblemError([Fault("frequency", what, remedy)])
    return named[0]


def _is_frequency_name(name: str) -> bool:
    if not name or _NOT_FREQUENCY.search(name) or level_unit_in(name):
        return False
    return bool(_FREQUENCY.search(name)) or frequency_unit_in(name) is not None


def _may_be_frequency(table: Table, index: int) -> bool:
    name, column = table.names[index], table.numbers[index]
    if name and (_LEVEL.search(name) or _NOT_LEVEL.search(name) or _NOT_FREQUENCY.search(name)):
        return False
    if len(column) < 2:
        return bool(column[0] > 0)
    # Points counted 0, 1, 2 or 1, 2, 3.
    counted = column[0] in (0, 1) and bool(np.all(column == column[0] + np.arange(len(column))))
    return not counted


def _rises(column: Numbers) -> bool:
    """Whether a column goes one way nearly always, and is positive."""
    if not _positive(column):
        return False
    if len(column) < 2:
        return True
    steps = np.diff(column)
    return bool((steps > 0).mean() > 0.8 or (steps < 0).mean() > 0.8)


def _positive(column: Numbers) -> bool:
    sound = column[~np.isnan(column)]
    return len(sound) > 0 and bool(sound.min() > 0)


def _levels(table: Table, frequency: int, sweep: int | None) -> tuple[list[int], tuple[str, ...]]:
    columns = [i for i in table.numbers if i not in (frequency, sweep)]
    columns = [i for i in columns if not _NOT_LEVEL.search(table.names[i])]
    columns = [i for i in columns if not _is_frequency_name(table.names[i])]
    known = [i for i in columns if level_unit_in(table.names[i]) or _LEVEL.search(table.names[i])]
    found = known or [
        i
        for i in columns
        if not _NOT_FREQUENCY.search(table.names[i]) and not _rises(table.numbers[i])
    ]
    if not found:
        found = columns if len(columns) == 1 else []
    if not found:
        what = f"no column of {table.source} looks like a level"
        remedy = f"name it with level=, by its name or its number; {table.listing()}"
        raise InvalidProblemError([Fault("level", what, remedy)])
    return _one_kind(table, found)


def _one_kind(table: Table, found: list[int]) -> tuple[list[int], tuple[str, ...]]:
    """Keep one unit where levels stand twice, and one trace where a sweep stands reduced."""
    warnings = []
    units = {i: (level_unit_in(table.names[i]) or "").lower() for i in found}
    if len(set(units.values())) > 1:
        best = "dbm" if "dbm" in units.values() else units[found[0]]
        left = [table.label(i) for i in found if units[i] != best]
        head = "columns {} are" if len(left) > 1 else "column {} is"
        warnings.append(f"{head.format(', '.join(left))} in another unit and not read")
        found = [i for i in found if units[i] == best]
    reduced = [i for i in found if _REDUCED.search(table.names[i])]
    if len(found) > 1 and reduced:
        largest = [i for i in reduced if _MAXIMUM.search(table.names[i])]
        kept = (largest or reduced)[0]
        left = [table.label(i) for i in found if i != kept]
        others = "looks like another trace of the same sweep and is not read"
        if len(left) > 1:
            others = "look like other traces of the same sweep and are not read"
        text = (
            f"column {table.label(kept)} is read as the level; {', '.join(left)} {others}: "
            "name level= to choose"
        )
        warnings.append(text)
        found = [kept]
    return found, tuple(warnings)
