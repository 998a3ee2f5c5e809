"""Tables of requests of every kind, as rows of cells under the headers that stand above them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sidon._schema import shown
from sidon.exceptions import Fault, StudyError

if TYPE_CHECKING:
    from sidon.study.attach import AttachedFile

__all__ = ["BEYOND", "MOST_ROWS", "csv_rows", "read_requests", "table_rows"]

MOST_ROWS = 20_000

BEYOND = ""
"""The key of a row's first cell beyond the last header: no header is empty."""

Row = dict[str, Any]

_REMEDY = "give a list of tables, a table of columns, or a data frame"


def read_requests(file: AttachedFile) -> list[Row]:
    """Read an attached file of requests.

    Parameters
    ----------
    file : AttachedFile
        CSV, or JSON that holds a list of objects, as its name says.

    Returns
    -------
    list of dict
        One per row, cells by header; empty rows are kept, so that rows keep their numbers.

    Raises
    ------
    StudyError
        When it is no such table; every fault names its row.
    """
    ending = Path(file.name).suffix.lower()
    if ending in {".csv", ".tsv", ".txt"}:
        return csv_rows(file.text, file.name)
    if ending != ".json":
        what = f"the name {file.name!r} does not say what it holds"
        raise StudyError([Fault(file.name, what, "name it .csv or .json; export a spreadsheet")])
    try:
        content = json.loads(file.text, parse_float=Decimal)
    except json.JSONDecodeError as error:
        place = f"{file.name}, line {error.lineno}, column {error.colno}"
        raise StudyError([Fault(place, f"it is not JSON: {error.msg}", "mend it")]) from None
    except (ValueError, RecursionError) as error:
        raise StudyError([Fault(file.name, f"it is not JSON: {error}", "mend it")]) from None
    if not isinstance(content, list):
        raise StudyError([Fault(file.name, "its top is not a list", "write a list of objects")])
    rows, faults = table_rows(content, file.name)
    if faults:
        raise StudyError(faults)
    return rows


def csv_rows(text: str, name: str) -> list[Row]:
    """Read CSV text whose first row holds the headers.

    Parameters
    ----------
    text : str
        Cells parted by commas, semicolons or tabs: whichever is most frequent in the first row.
    name : str
        What to call it in faults.

    Returns
    -------
    list of dict
        One per row below the first. A row with cells beyond the last header has the first of them
        under `BEYOND`: which cell went astray is for who reads the rows to tell, with the others.

    Raises
    ------
    StudyError
        When a header is missing or stands twice, or a quote is never closed.
    """
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    # What was read before a fault tells its row.
    records = []
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True):
            records.append(record)
    except csv.Error as error:
        what, remedy = f"it is not CSV: {error}", "mend the row, or export the table again"
        if "unexpected end" in str(error):
            what = "a quote is opened in this row and never closed"
            remedy = 'close it, or double a quote that is part of the text ("")'
        raise StudyError([Fault(f"{name}, row {len(records) + 1}", what, remedy)]) from None
    if not records or not any(cell.strip() for cell in records[0]):
        what = "its first row holds no headers"
        raise StudyError([Fault(name, what, "write the names of the columns into the first row")])
    headers = [cell.strip() for cell in records[0]]
    while headers and not headers[-1]:
        headers.pop()
    faults = [
        Fault(f"{name}, row 1", f"the header {header!r} stands twice", "rename one of the columns")
        for position, header in enumerate(headers)
        if header and header in headers[:position]
    ]
    rows = []
    for record in records[1:]:
        row = {h: c for h, c in zip(headers, record, strict=False) if h}
        beyond = [cell for cell in record[len(headers) :] if cell.strip()]
        rows.append({**row, BEYOND: beyond[0]} if beyond else row)
    faults += _too_many(rows, name)
    if faults:
        raise StudyError(faults)
    return rows


def table_rows(table: object, place: str) -> tuple[list[Row], list[Fault]]:
    """Read a table that is there as data.

    Parameters
    ----------
    table : object
        A list of mappings, a mapping of columns, or a data frame: anything with ``columns`` whose
        columns are had by name, or with ``to_pydict``. No data-frame library is needed.
    place : str
        Where it stands, for faults.

    Returns
    -------
    rows : list of dict
        One per row.
    faults : list of Fault
        What cannot be read as a row.
    """
    to_columns = getattr(table, "to_pydict", None)
    if callable(to_columns):
        table = to_columns()
    elif not isinstance(table, Mapping) and hasattr(table, "columns"):
        names = list(table.columns)
        twice = sorted({str(name) for name in names if names.count(name) > 1})
        if twice:
            return [], [Fault(place, f"the column {n!r} stands twice", "rename one") for n in twice]
        table = {name: list(table[name]) for name in names}  # type: ignore[index]
    if isinstance(table, Mapping):
        table, faults = _from_columns(table, place)
        if faults:
            return [], faults
    if isinstance(table, str) or not isinstance(table, Iterable):
        return [], [Fault(place, f"{shown(table)} is not a table of requests", _REMEDY)]
    rows: list[Row] = []
    faults = []
    for index, row in enumerate(table):
        if isinstance(row, Mapping):
            rows.append({str(key).strip(): _own(value) for key, value in row.items()})
            continue
        rows.append({})
        what = f"{shown(row)} is not a row of named cells"
        faults.append(Fault(f"{place}, row {index + 1}", what, "write names and values"))
    return rows, [*faults, *_too_many(rows, place)]


def _own(value: object) -> object:
    """Turn a value of a data frame, also a list in a cell, into Python's own."""
    for name in ("tolist", "to_list"):
        convert = getattr(value, name, None)
        if callable(convert):
            return convert()
    return value


def _from_columns(table: Mapping[Any, Any], place: str) -> tuple[object, list[Fault]]:
    columns: dict[str, list[Any]] = {}
    for name, column in table.items():
        if isinstance(column, str) or not isinstance(column, Iterable):
            what = f"{shown(column)} is not a column"
            return [], [Fault(f"{place}.{name}", what, _REMEDY)]
        columns[str(name)] = list(column)
    lengths = {name: len(column) for name, column in columns.items()}
    if len(set(lengths.values())) > 1:
        what = "its columns have different lengths: " + ", ".join(
            f"{name} {length}" for name, length in lengths.items()
        )
        return [], [Fault(place, what, "give every row a cell in every column")]
    return [
        dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)
    ], []


def _too_many(rows: list[Row], place: str) -> list[Fault]:
    if len(rows) <= MOST_ROWS:
        return []
    what = f"it has {len(rows):,} rows, more than {MOST_ROWS:,}"
    return [Fault(place, what, "ask for several links in one row, by their count")]
