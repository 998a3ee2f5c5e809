"""Station tables from CSV text, data frames, columns or rows."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sidon._faults import schema_faults
from sidon._files import read_text
from sidon.exceptions import Fault, StudyError
from sidon.spectrum.station import PartlyReadError, Station, StationOptions, read_rows

__all__ = ["header_of", "read_csv", "read_options", "read_stations", "rows_of"]

_DELIMITERS = ",;\t|"


def read_stations(
    source: object,
    *,
    columns: Mapping[str, str] | None = None,
    erp_unit: str | None = None,
    erp_kind: str = "ERP",
    height_above: str | None = None,
    service: str | None = None,
) -> list[Station]:
    """Read TV stations from a CSV file, a data frame, a table of columns, or a list of rows.

    Parameters
    ----------
    source : str, Path, data frame, mapping or sequence
        A path of a CSV file; a pandas or polars frame; columns by name; or mappings, one per
        station. Columns: name, channel, latitude, longitude (decimal degrees), the power in a
        column that names its unit (``erp_kw``, ``erp_w``, ``eirp_dbm``, ...), the height in one
        that names its datum (``haat_m`` above average terrain, ``height_above_ground_m``),
        service, and where known ``contour_km`` and ``pattern``.
    columns : mapping, optional
        From ``channel``, ``latitude``, ``longitude``, ``erp``, ``height``, ``service``, ``name``,
        ``contour_km``, ``pattern`` to the name of the column.
    erp_unit : {"W", "kW", "dBm", "dBW", "dBk"}, optional
        Where the column does not say.
    erp_kind : {"ERP", "EIRP"}, default "ERP"
        Over a half-wave dipole, or over an isotropic radiator.
    height_above : {"average terrain", "ground"}, optional
        Where the column does not say.
    service : str, optional
        Class of service of all stations, where there is no such column.

    Returns
    -------
    list of Station
        In the order of the table.

    Raises
    ------
    StudyError
        When the table holds faults; all are listed with line and column.
    OSError
        When the file cannot be read.

    Examples
    --------
    >>> import sidon
    >>> rows = [{"channel": 21, "lat": 0.1, "lon": -30.2, "kW": 15, "haat_m": 100}]
    >>> stations = sidon.read_stations(
    ...     rows, columns={"erp": "kW"}, erp_unit="kW", service="digital"
    ... )
    >>> stations[0].channel, stations[0].erp_kw
    ('21', 15.0)
    """
    options = read_options(
        {
            "columns": dict(columns or {}),
            "erp_unit": erp_unit,
            "erp_kind": erp_kind,
            "height_above": height_above,
            "service": service,
        }
    )
    if isinstance(source, str | Path):
        path = Path(source)
        return read_csv(read_text(path), options=options, name=path.name)
    return read_rows(rows_of(source), options=options)


def read_options(mapping: Mapping[str, Any], *, name: str = "stations") -> StationOptions:
    """Read how a table is to be read.

    Parameters
    ----------
    mapping : mapping
        The fields of `StationOptions`.
    name : str, default "stations"
        What faults call it.

    Returns
    -------
    StationOptions
        Sound.

    Raises
    ------
    StudyError
        When it holds faults; all are listed.
    """
    from pydantic import ValidationError

    try:
        return StationOptions.model_validate(mapping)
    except ValidationError as error:
        found = schema_faults(error, StationOptions)
        raise StudyError([Fault(f"{name}.{f.place}", f.what, f.remedy) for f in found]) from None


def read_csv(text: str, *, options: StationOptions, name: str) -> list[Station]:
    """Read stations from CSV text.

    Parameters
    ----------
    text : str
        A line of names, then one line per station. Lines that begin with ``#`` are left out. The
        delimiter is a comma, semicolon, tab or bar, whichever the first line holds most of; where
        it is no comma, a comma in a number is a decimal one.
    options : StationOptions
        What the columns do not say.
    name : str
        What faults call the file.

    Returns
    -------
    list of Station
        In the order of the lines.

    Raises
    ------
    StudyError
        When it holds faults; all are listed with line and column.
    """
    kept = _kept(text)
    if not kept:
        raise StudyError([Fault(name, "it is empty", "give a line of names and one per station")])
    delimiter = max(_DELIMITERS, key=kept[0][1].count)
    reader = csv.reader(io.StringIO("".join(line for _, line in kept)), delimiter=delimiter)
    header: list[str] = []
    rows: list[dict[str, str]] = []
    numbers: list[int] = []
    faults: list[Fault] = []
    start = 0
    try:
        for cells in reader:
            line, start = kept[start][0], reader.line_num
            if not header:
                header = [cell.strip() for cell in cells]
                faults += _header_faults(header, f"{name}, line {line}")
            elif len(cells) != len(header):
                what = f"it has {len(cells)} columns, the first line {len(header)}"
                remedy = "give every line the same columns; put text with a delimiter in quotes"
                faults.append(Fault(f"{name}, line {line}", what, remedy))
            else:
                rows.append(dict(zip(header, _decimals(cells, delimiter), strict=True)))
                numbers.append(line)
    except csv.Error as error:
        place = f"{name}, line {kept[min(start, len(kept) - 1)][0]}"
        faults.append(Fault(place, f"it is not CSV: {error}", "correct it there"))
    if not rows and not faults:
        what = "there is no station below the line of names"
        raise StudyError([Fault(name, what, "give one line per station")])
    try:
        found = read_rows(rows, header=header, options=options, name=name, lines=numbers)
    except StudyError as error:
        # Without a sound row, what the columns lack is still worth telling.
        faults += error.faults if rows else ()
        sound = error.sound if isinstance(error, PartlyReadError) else []
        raise PartlyReadError(faults, sound) from None
    if faults:
        raise PartlyReadError(faults, found)
    return found


def _kept(text: str) -> list[tuple[int, str]]:
    """List the lines that say something, with their numbers."""
    lines = [f"{line}\n" for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
    return [(n, line) for n, line in enumerate(lines, 1) if line.strip() and line[0] != "#"]


def header_of(text: str) -> list[str]:
    """Read the names of the columns of CSV text.

    Parameters
    ----------
    text : str
        As `read_csv` takes it, and sound.

    Returns
    -------
    list of str
        In the order of the table.
    """
    kept = _kept(text)
    delimiter = max(_DELIMITERS, key=kept[0][1].count)
    cells = next(csv.reader(io.StringIO("".join(line for _, line in kept)), delimiter=delimiter))
    return [cell.strip() for cell in cells]


def _header_faults(header: Sequence[str], place: str) -> list[Fault]:
    twice = sorted({cell for cell in header if cell and header.count(cell) > 1})
    return [Fault(place, f"the column {cell!r} stands twice", "rename one") for cell in twice]


def _decimals(cells: Sequence[str], delimiter: str) -> list[str]:
    if delimiter == ",":
        return list(cells)
    return [
        cell.replace(",", ".") if cell.replace(",", "", 1).strip(" +-").isdecimal() else cell
        for cell in cells
    ]


def rows_of(source: object, *, name: str = "stations") -> list[Mapping[str, Any]]:
    """Take the rows out of a data frame, a table of columns, or a list of rows.

    Parameters
    ----------
    source : object
        A pandas or polars frame, a mapping of columns, or a sequence of mappings.
    name : str, default "stations"
        What faults call it.

    Returns
    -------
    list of mapping
        One per station.

    Raises
    ------
    StudyError
        When it is nothing of that.
    """
    to_dicts = getattr(source, "to_dicts", None)
    if callable(to_dicts):
        return list(to_dicts())
    to_dict = getattr(source, "to_dict", None)
    if callable(to_dict) and not isinstance(source, Mapping):
        return list(to_dict("records"))
    if isinstance(source, Mapping):
        lengths = {len(column) for column in source.values()}
        if len(lengths) > 1:
            what = "the columns differ in length"
            raise StudyError([Fault(name, what, "give every column one value per station")])
        keys = list(source)
        return [dict(zip(keys, row, strict=True)) for row in zip(*source.values(), strict=True)]
    if isinstance(source, Sequence) and not isinstance(source, str | bytes):
        return list(source)
    what = f"{type(source).__name__} is no table of stations"
    remedy = "give a path, a data frame, columns by name, or a list of rows"
    raise StudyError([Fault(name, what, remedy)])
