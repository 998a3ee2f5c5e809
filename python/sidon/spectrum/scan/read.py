"""From a table to a scan: units, exact hertz, plausible levels, sweeps on one grid."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from sidon._arrays import FaultList, distance
from sidon._columns import frozen
from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan.about import Facts
from sidon.spectrum.scan.cells import cell_edges, covered_spans
from sidon.spectrum.scan.columns import Choice, ColumnName, choose
from sidon.spectrum.scan.grid import one_grid
from sidon.spectrum.scan.plausible import date_warnings, level_faults, level_warnings, outliers
from sidon.spectrum.scan.table import Numbers, Table
from sidon.spectrum.scan.units import (
    frequency_factor,
    frequency_unit_in,
    guess_frequency_unit,
    level_unit,
    level_unit_in,
    to_dbm,
    to_hertz,
)
from sidon.spectrum.scan.words import lines_text
from sidon.units import mhz_text

__all__ = ["Columns", "Reading", "read_table"]

_BANDWIDTH = re.compile(
    r"(?:\brbw\b|resolution\s+bandwidth)[^0-9]{0,20}(\d+(?:[.,]\d+)?)\s*([kMG]?Hz)", re.I
)

_NO_HERTZ = np.empty(0, dtype=np.int64)


class Columns(TypedDict, total=False):
    """Which columns are read, and in which units; all found out when not given."""

    frequency: ColumnName | None
    level: ColumnName | Sequence[ColumnName] | None
    sweep: ColumnName | None
    frequency_unit: str | None
    level_unit: str | None


@dataclass(frozen=True)
class Reading:
    """A scan's contents.

    Parameters
    ----------
    frequency_hz : numpy.ndarray
        Ascending, each once.
    levels_dbm : numpy.ndarray
        One row per sweep.
    sweep_names : tuple of str
        Where a column gives them.
    facts : Facts
        What was said, or found above the table.
    notes, warnings : tuple of str
        What was taken for granted, and what a reader must mind.
    """

    frequency_hz: NDArray[np.int64]
    levels_dbm: Numbers
    sweep_names: tuple[str, ...]
    facts: Facts
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def read_table(table: Table, options: Columns, facts: Facts) -> Reading:
    """Read a scan from a table. O(n log n) in its rows, O(n) when they are in order.

    Parameters
    ----------
    table : Table
        What was handed over.
    options : mapping
        Columns and units.
    facts : Facts
        What else is known.

    Returns
    -------
    Reading
        Exact hertz and dBm.

    Raises
    ------
    InvalidProblemError
        The columns are not clear, or the values cannot be a scan.
    TooLargeError
        The sweeps share too few frequencies.
    """
    # What is infinite was a number that overflowed, or the logarithm of nothing.
    finite = {i: np.where(np.isinf(c), np.nan, c) for i, c in table.numbers.items()}
    table = replace(table, numbers=finite)
    choice = choose(
        table,
        frequency=options.get("frequency"),
        level=options.get("level"),
        sweep=options.get("sweep"),
    )
    notes: list[str] = []
    warnings = [*table.warnings, *choice.warnings]
    facts = _bandwidth_above(table, facts, notes)
    column = table.numbers[choice.frequency]
    levels = np.stack([table.numbers[index] for index in choice.levels])
    sweep = _sweep_cells(table, choice)
    lines = table.lines
    sound = ~np.isnan(column)
    lost = int(len(sound) - sound.sum())
    if lost:
        text = f"{lost:,} {'row' if lost == 1 else 'rows'} without a frequency left out"
        warnings.append(text + _at(lines, ~sound))
        lines = None if lines is None else lines[sound]
        column, levels = column[sound], levels[:, sound]
        sweep = None if sweep is None else [s for s, kept in zip(sweep, sound, strict=True) if kept]
    if not len(column):
        _refuse(table, "it holds no frequencies", "give at least two points")
    faults = FaultList()
    hertz = faults.take(
        _NO_HERTZ, _hertz, table, choice, column, options.get("frequency_unit"), notes
    )
    levels, stated = faults.take(
        (levels, None), _levels, table, choice, levels, options.get("level_unit"), facts, notes
    )
    if not faults:
        faults.extend(outliers(levels, lines, source=table.source))
    faults.raise_if_any()
    missing = np.isnan(levels)
    if missing.any():
        count = int(missing.sum())
        if count == levels.size:
            _refuse(table, "it holds no levels", "name the column with level=")
        lacking = "level is" if count == 1 else "levels are"
        where_to = _at(lines, np.asarray(missing.any(axis=0)))
        warnings.append(f"{count:,} {lacking} missing{where_to}; nothing is known there")
    grid = one_grid(hertz, levels, sweep)
    heard = ~np.isnan(grid.levels).all(axis=0) if missing.any() else None
    where, levels = grid.frequency_hz, grid.levels
    if heard is not None and not heard.all():
        where, levels = where[heard], levels[:, heard]
    if len(where) < 2:
        _refuse(table, f"it holds one point, at {mhz_text(int(where[0]))} MHz", "give a sweep")
    faults.extend(level_faults(levels, stated=stated, source=table.source))
    faults.raise_if_any()
    warnings += grid.warnings
    warnings += level_warnings(levels, facts.noise_bandwidth_hz, per_hertz=stated == "dBm/Hz")
    warnings += _steps(where, facts.resolution_bandwidth_hz, notes)
    warnings += date_warnings(facts.taken)
    return Reading(
        frozen(np.ascontiguousarray(where)),
        frozen(np.ascontiguousarray(levels)),
        grid.names,
        facts,
        tuple(notes),
        tuple(warnings),
    )


def _at(lines: NDArray[np.int64] | None, which: NDArray[np.bool_]) -> str:
    """Say on which lines of the text, where it is a text."""
    return "" if lines is None else f" ({lines_text(lines[which].tolist())})"


def _bandwidth_above(table: Table, facts: Facts, notes: list[str]) -> Facts:
    """Take the resolution bandwidth from the lines above the table, when it is not given."""
    if facts.resolution_bandwidth_hz is not None:
        return facts
    match = _BANDWIDTH.search("\n".join(table.preamble))
    if match is None:
        return facts
    text = f"{match[1].replace(',', '.')} {match[2]}"
    width = round(float(match[1].replace(",", ".")) * frequency_factor(match[2], "rbw"))
    if width <= 0:
        return facts
    notes.append(f"resolution bandwidth {text}, as written above the table")
    return replace(facts, resolution_bandwidth_hz=distance(width, "resolution_bandwidth"))


def _sweep_cells(table: Table, choice: Choice) -> Sequence[object] | None:
    if choice.sweep is None:
        return None
    numbers = table.numbers.get(choice.sweep)
    return table.texts(choice.sweep) if numbers is None else numbers.tolist()


def _hertz(
    table: Table, choice: Choice, column: Numbers, unit: str | None, notes: list[str]
) -> NDArray[np.int64]:
    place = f"frequency (column {table.label(choice.frequency)} of {table.source})"
    named = unit or frequency_unit_in(table.names[choice.frequency])
    if named is None:
        named = guess_frequency_unit(column)
        notes.append(f"the unit of frequency is not stated; {named} is taken, by its size")
    hertz, off = to_hertz(column, frequency_factor(named, "frequency_unit"), place)
    if off > 1e-3:
        notes.append("frequencies finer than 1 Hz are rounded to the nearest hertz")
    return hertz


def _levels(
    table: Table,
    choice: Choice,
    levels: Numbers,
    unit: str | None,
    facts: Facts,
    notes: list[str],
) -> tuple[Numbers, str | None]:
    """Levels in dBm, and the unit that was stated for them."""
    named = unit or level_unit_in(table.names[choice.levels[0]])
    if named is None:
        notes.append("the unit of level is not stated; dBm is taken")
        return levels, None
    known = level_unit(named, "level_unit")
    return to_dbm(levels, known, facts.noise_bandwidth_hz, "level_unit"), known


def _steps(
    frequency_hz: NDArray[np.int64], resolution_hz: int | None, notes: list[str]
) -> list[str]:
    """Say what is odd about the points: gaps, several resolutions, air between them."""
    warnings = []
    spans = covered_spans(*cell_edges(frequency_hz, resolution_hz))
    if len(spans) > 1:
        gaps = [(a[1], b[0]) for a, b in pairwise(spans)]
        shown = ", ".join(f"{mhz_text(a)}-{mhz_text(b)}" for a, b in gaps[:5])
        more = f" and {len(gaps) - 5} more" if len(gaps) > 5 else ""
        noun = "gap" if len(gaps) == 1 else "gaps"
        warnings.append(
            f"{len(gaps)} {noun}, neither quiet nor free but not known: {shown} MHz{more}"
        )
    steps = np.diff(frequency_hz)
    fine, coarse = (int(step) for step in np.quantile(steps, [0.1, 0.9]))
    if fine > 0 and coarse > 1.5 * fine:
        notes.append(f"the steps differ, from {mhz_text(fine)} to {mhz_text(coarse)} MHz")
    typical = int(np.median(steps))
    if resolution_hz is None:
        warnings.append(
            "the resolution bandwidth is not known: channel power and levels in another bandwidth "
            "cannot be given"
        )
    elif typical > 2 * resolution_hz:
        warnings.append(
            f"points stand {mhz_text(typical)} MHz apart and hear {mhz_text(resolution_hz)} MHz "
            "each: unless the receiver swept through, carriers between them are missed"
        )
    return warnings


def _refuse(table: Table, what: str, remedy: str) -> None:
    raise InvalidProblemError([Fault(table.source, what, remedy)])
