"""TV stations as a table gives them: columns found or mapped, units converted, faults placed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from sidon._faults import nearest
from sidon._quantity import refuse
from sidon._schema import shown
from sidon.exceptions import Fault, StudyError
from sidon.spectrum.power import UNITS, to_kw, unit_of
from sidon.spectrum.region import ChannelName

__all__ = ["COLUMNS", "PartlyReadError", "Station", "StationOptions", "other_columns", "read_rows"]

COLUMNS = (
    "name",
    "channel",
    "latitude",
    "longitude",
    "erp",
    "height",
    "service",
    "contour_km",
    "pattern",
)
"""What a table may say of a station; all but name, contour_km and pattern are needed."""

Above = Literal["average terrain", "ground"]

_ALIASES = {
    "station": "name",
    "lat": "latitude",
    "lon": "longitude",
    "long": "longitude",
    "haat_m": "height",
    "height_m": "height",
    "height_above_average_terrain_m": "height",
    "height_above_ground_m": "height",
    "agl_m": "height",
}
_ABOVE: dict[str, Above] = {
    "haat_m": "average terrain",
    "height_above_average_terrain_m": "average terrain",
    "height_above_ground_m": "ground",
    "agl_m": "ground",
}
_OPTIONAL = ("name", "contour_km", "pattern")
_CHANNEL = re.compile(r"[0-9]{1,3}[A-Z]?")
_CHANNEL_WORD = re.compile(r"CH(AN(NEL)?)?\.?\s*")
_WHOLE = re.compile(r"\.0+$")
_MOST_ROWS = 200_000


class Station(BaseModel):
    """A TV transmitter.

    Parameters
    ----------
    name : str
        What it is called.
    channel : str
        Its channel in the region of the table.
    latitude, longitude : float
        Degrees north and east.
    erp_kw : float
        Greatest effective radiated power over a half-wave dipole, in kilowatts.
    height_m : float
        Height of its antenna in metres.
    height_above : {"average terrain", "ground"}
        What the height is counted from.
    service : str
        Class of service, one of the region's.
    contour_km : float, optional
        Distance of the protected contour when an authority says it; it is computed otherwise.
    pattern : list of float, optional
        Relative field at equal steps of azimuth, clockwise from true north, 1 at most.
    line : int, optional
        Line of the table it stands in.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str = ""
    channel: ChannelName
    latitude: Annotated[float, Field(ge=-90, le=90, allow_inf_nan=False)]
    longitude: Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)]
    erp_kw: Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)]
    height_m: Annotated[float, Field(ge=-1000, le=3000, allow_inf_nan=False)]
    height_above: Above
    service: str
    contour_km: Annotated[float | None, Field(gt=0, le=1000, allow_inf_nan=False)] = None
    pattern: list[Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]] | None = None
    line: int | None = None

    @model_validator(mode="after")
    def _pattern_radiates(self) -> Self:
        if self.pattern is not None and (len(self.pattern) < 2 or max(self.pattern) <= 0):
            refuse(
                "the pattern radiates nowhere", "write at least two relative fields, one above 0"
            )
        return self

    @property
    def label(self) -> str:
        """Its name, or what else tells it from others."""
        return self.name or f"station on {self.channel}"

    def erp_towards_kw(self, azimuth: float) -> float:
        """Return its power in a direction.

        Parameters
        ----------
        azimuth : float
            Degrees from true north, clockwise.

        Returns
        -------
        float
            Kilowatts ERP; fields between two steps of the pattern are interpolated linearly.
        """
        if self.pattern is None:
            return self.erp_kw
        at = (azimuth % 360) / 360 * len(self.pattern)
        first = int(at) % len(self.pattern)
        second = (first + 1) % len(self.pattern)
        field = self.pattern[first] + (at - int(at)) * (self.pattern[second] - self.pattern[first])
        return self.erp_kw * field * field


class PartlyReadError(StudyError):
    """Some rows of a table hold faults.

    Parameters
    ----------
    faults : list of Fault
        All of them.
    sound : list of Station
        The other rows.
    """

    def __init__(self, faults: Iterable[Fault], sound: Sequence[Station] = ()) -> None:
        super().__init__(faults)
        self.sound = list(sound)


class StationOptions(BaseModel):
    """How a table of stations is to be read, where its columns do not say.

    Parameters
    ----------
    columns : dict of str to str
        From one of `COLUMNS` to the name of the column.
    erp_unit, erp_kind : str, optional
        One of `UNITS`; "ERP" or "EIRP".
    height_above : {"average terrain", "ground"}, optional
        What heights are counted from.
    service : str, optional
        Class of service of all stations.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    columns: dict[str, str] = {}
    erp_unit: Literal["W", "kW", "dBm", "dBW", "dBk"] | None = None
    erp_kind: Literal["ERP", "EIRP"] = "ERP"
    height_above: Above | None = None
    service: str | None = None


class _Reader:
    """Reads the rows of one table, whose columns it has found out once."""

    def __init__(self, header: Sequence[str], options: StationOptions, name: str) -> None:
        self.options = options
        self.name = name
        self.faults: list[Fault] = []
        self.column: dict[str, str] = {}
        self.kind, self.unit = options.erp_kind, options.erp_unit
        self.above = options.height_above
        for key, column in options.columns.items():
            if key not in COLUMNS:
                self._fault("columns", f"{key!r} is nothing a station has", nearest(key, COLUMNS))
            elif column not in header:
                what = f"there is no column {column!r}"
                self._fault(f"columns.{key}", what, nearest(column, list(header)))
            else:
                self._take(key, column)
        for column in header:
            self._recognise(column)
        for key in COLUMNS:
            spared = key in _OPTIONAL or (key == "service" and options.service is not None)
            if key not in self.column and key not in options.columns and not spared:
                known = ", ".join(header[:20])
                remedy = f"name it {_example(key)}, or map it under columns; there are: {known}"
                self._fault("", f"no column says {_meaning(key)}", remedy)
        if "erp" in self.column and self.unit is None:
            what = f"the unit of the power in {self.column['erp']!r} is not said"
            self._fault("", what, f"name the column erp_kw or the like, or set erp_unit: {UNITS}")
        if "height" in self.column and self.above is None and "height_above" not in header:
            what = f"what the heights in {self.column['height']!r} are counted from is not said"
            self._fault("", what, "set height_above to 'average terrain' or 'ground'")

    def _fault(self, place: str, what: str, remedy: str) -> None:
        self.faults.append(Fault(f"{self.name}{', ' if place else ''}{place}", what, remedy))

    def _recognise(self, column: str) -> None:
        if column in self.options.columns.values():
            return
        plain = column.strip().lower().replace(" ", "_")
        key = _ALIASES.get(plain, plain)
        if unit_of(column) is not None:
            key = "erp"
        if key in COLUMNS and key not in self.options.columns:
            if key in self.column:
                both = f"both {self.column[key]!r} and {column!r} say {_meaning(key)}"
                self._fault("", both, "drop one, or map the right one under columns")
            else:
                self._take(key, column)

    def _take(self, key: str, column: str) -> None:
        self.column[key] = column
        said = unit_of(column) if key == "erp" else None
        if said is not None:
            if self.options.erp_unit not in (None, said[1]):
                what = f"erp_unit is {self.options.erp_unit}, but the column is {column!r}"
                self._fault("erp_unit", what, "drop the option, or rename the column")
            self.kind, self.unit = ("EIRP" if said[0] == "EIRP" else "ERP"), _unit(said[1])
        if key == "height":
            self.above = self.above or _ABOVE.get(column.strip().lower().replace(" ", "_"))

    def station(self, row: Mapping[str, Any], place: str, line: int | None) -> Station | None:
        """Read one row, or note everything wrong with it."""
        before = len(self.faults)
        latitude = self._number(row, "latitude", place, -90, 90)
        longitude = self._number(row, "longitude", place, -180, 180)
        erp = self._erp(row, place)
        height = self._number(row, "height", place, -1000, 3000)
        contour = self._number(row, "contour_km", place, 0.001, 1000, needed=False)
        pattern = self._pattern(row, place)
        channel = self._channel(row, place)
        service = self._text(row, "service") or self.options.service or ""
        if not service:
            self._at(place, "service", "the class of service is missing", "write it")
        above = row.get("height_above", self.above)
        if above not in ("average terrain", "ground"):
            self._at(place, "height_above", f"{shown(above)} is no datum", "use 'ground'")
        if len(self.faults) > before or None in (latitude, longitude, erp, height, channel):
            return None
        # What does not print would break tables and pictures.
        name = "".join(c if c.isprintable() else " " for c in self._text(row, "name"))
        return Station.model_validate(
            {
                "name": name[:80],
                "channel": channel,
                "latitude": latitude,
                "longitude": longitude,
                "erp_kw": erp,
                "height_m": height,
                "height_above": above,
                "service": service,
                "contour_km": contour,
                "pattern": pattern,
                "line": line,
            }
        )

    def _at(self, place: str, key: str, what: str, remedy: str) -> None:
        column = self.column.get(key, key)
        at = f"{place}.{column}" if place.endswith("]") else f"{place}, column {column}"
        self.faults.append(Fault(at, what, remedy))

    def _cell(self, row: Mapping[str, Any], key: str) -> object:
        cell = row.get(self.column.get(key, key))
        return cell.strip() if isinstance(cell, str) else cell

    def _text(self, row: Mapping[str, Any], key: str) -> str:
        cell = self._cell(row, key)
        return "" if cell is None or cell != cell else str(cell)

    def _number(
        self,
        row: Mapping[str, Any],
        key: str,
        place: str,
        low: float,
        high: float,
        *,
        needed: bool = True,
    ) -> float | None:
        if key not in self.column:
            return None
        cell = self._cell(row, key)
        if cell is None or cell == "" or (not needed and cell != cell):
            if needed:
                self._at(place, key, f"{_meaning(key)} is missing", "write it")
            return None
        value = _float(cell)
        if value is None or not math.isfinite(value):
            remedy = "write a number in digits, degrees as a decimal fraction"
            self._at(place, key, f"{shown(cell)} is not a number", remedy)
            return None
        if not low <= value <= high:
            remedy = f"write {low:g} to {high:g}"
            other = _float(self._cell(row, "longitude")) if key == "latitude" else None
            if other is not None and abs(other) <= 90 and abs(value) <= 180:
                remedy += "; latitude and longitude look swapped"
            self._at(place, key, f"{shown(cell)} is out of range", remedy)
            return None
        return value

    def _erp(self, row: Mapping[str, Any], place: str) -> float | None:
        value = self._number(row, "erp", place, -1e9, 1e9)
        if value is None or self.unit is None:
            return None
        kw = to_kw(value, self.unit, kind=self.kind)
        if not 0 < kw <= 1e6:
            what = f"{value:g} {self.unit} is no power of a TV station"
            self._at(place, "erp", what, f"check the unit: {', '.join(UNITS)}")
            return None
        return kw

    def _channel(self, row: Mapping[str, Any], place: str) -> str | None:
        if "channel" not in self.column:
            return None
        cell = self._cell(row, "channel")
        # A column with a gap in it makes a data frame of whole numbers one of fractions.
        if isinstance(cell, float) and cell.is_integer():
            cell = int(cell)
        text = "" if cell is None else _CHANNEL_WORD.sub("", str(cell).strip().upper())
        text = _WHOLE.sub("", text).lstrip("0")
        if not _CHANNEL.fullmatch(text):
            remedy = "write the number or name of a channel, such as 21 or 9A"
            self._at(place, "channel", f"{shown(cell)} is no channel", remedy)
            return None
        return text

    def _pattern(self, row: Mapping[str, Any], place: str) -> list[float] | None:
        cell = self._cell(row, "pattern") if "pattern" in self.column else None
        if cell is None or cell == "" or cell != cell:
            return None
        parts = cell.replace(";", " ").split() if isinstance(cell, str) else cell
        values = [_float(part) for part in parts] if isinstance(parts, Iterable) else []
        sound = [v for v in values if v is not None and 0 <= v <= 1]
        if len(sound) < 2 or len(sound) < len(values) or not any(sound):
            remedy = "write fields from 0 to 1 at equal steps from north, such as 1 0.8 0.5 0.8"
            self._at(place, "pattern", f"{shown(cell)} is no pattern", remedy)
            return None
        return sound


def read_rows(
    rows: Iterable[Mapping[str, Any]],
    *,
    header: Sequence[str] | None = None,
    options: StationOptions | None = None,
    name: str = "stations",
    lines: Sequence[int] | None = None,
) -> list[Station]:
    """Read stations from rows. O(n).

    Parameters
    ----------
    rows : iterable of mapping
        One per station.
    header : sequence of str, optional
        The columns; the keys of the rows when not given.
    options : StationOptions, optional
        What the columns do not say.
    name : str, default "stations"
        What faults call the table.
    lines : sequence of int, optional
        The line of each row, for faults; they count rows from 0 when not given.

    Returns
    -------
    list of Station
        In the order of the rows.

    Raises
    ------
    StudyError
        When the table holds faults; all are listed.
    """
    table = list(rows)
    if not table:
        raise StudyError([Fault(name, "the table is empty", "give at least one station")])
    if len(table) > _MOST_ROWS:
        what = f"{len(table):,} stations are more than {_MOST_ROWS:,}"
        raise StudyError([Fault(name, what, "keep those near the place")])
    for index, row in enumerate(table):
        if not _is_table(row):
            what = f"{shown(row)} is not a table"
            raise StudyError([Fault(f"{name}[{index}]", what, "write keys and values")])
    keys = list(dict.fromkeys(str(key) for row in table for key in row))
    options = options or StationOptions()
    reader = _Reader(header or keys, options, name)
    if reader.faults:
        raise StudyError(reader.faults)
    found = list(_stations(reader, table, lines))
    if reader.faults:
        raise PartlyReadError(reader.faults, found)
    return found


def other_columns(header: Sequence[str], options: StationOptions) -> list[str]:
    """List the columns of a table that nothing is read from.

    Parameters
    ----------
    header : sequence of str
        The columns.
    options : StationOptions
        What the columns do not say.

    Returns
    -------
    list of str
        In the order of the table.
    """
    reader = _Reader(header, options, "stations")
    used = {*reader.column.values(), "height_above"}
    return [column for column in header if column and column not in used]


def _stations(
    reader: _Reader, table: Sequence[Mapping[str, Any]], lines: Sequence[int] | None
) -> Iterator[Station]:
    for index, row in enumerate(table):
        written = row.get("line") if lines is None else lines[index]
        line = written if isinstance(written, int) else None
        in_file = lines is not None
        place = f"{reader.name}, line {line}" if in_file else f"{reader.name}[{index}]"
        station = reader.station(row, place, line)
        if station is not None:
            yield station


def _is_table(row: object) -> bool:
    return isinstance(row, Mapping)


def _float(cell: object) -> float | None:
    try:
        return None if isinstance(cell, bool) else float(cell)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return None


def _unit(text: str) -> Literal["W", "kW", "dBm", "dBW", "dBk"]:
    return next(unit for unit in ("W", "kW", "dBm", "dBW", "dBk") if unit == text)


def _example(key: str) -> str:
    return {"erp": "erp_kw", "height": "haat_m or height_above_ground_m"}.get(key, key)


def _meaning(key: str) -> str:
    words = {
        "erp": "the radiated power",
        "height": "the height of the antenna",
        "service": "the class of service",
        "contour_km": "the distance of the contour",
    }
    return words.get(key, f"the {key}")
