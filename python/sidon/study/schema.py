"""The shape of a study, `sidon-study/1`: what may stand in the file, and of what type."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    SerializerFunctionWrapHandler,
    StringConstraints,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    model_serializer,
    model_validator,
)
from pydantic_core import PydanticCustomError

from sidon._quantity import Carrier, Distance, Range, Step, refuse
from sidon.spectrum.propagation import Propagation
from sidon.study.ask import CapacityAsk
from sidon.study.forms import Form, Guard, without_repeats
from sidon.study.isolation import Coordinate, Decibel, Degree, Isolation, Metres
from sidon.study.place_files import UNREAD
from sidon.study.place_schema import Indoor, RegionKey, StationTable, missed
from sidon.study.scan_schema import ScanUse
from sidon.study.share import Spares, of
from sidon.study.windows import Minutes, TimeZone

__all__ = [
    "FORMAT",
    "Availability",
    "BlockedChannel",
    "Coupling",
    "Degree",
    "Demand",
    "EquipmentClass",
    "Exclusion",
    "Incumbent",
    "Place",
    "Profile",
    "QuestionModel",
    "SharedSpares",
    "StudyModel",
    "TvRaster",
    "Window",
    "Zone",
]

FORMAT = "sidon-study/1"


def _plain(text: str) -> str:
    """Refuse control characters, and what a spreadsheet takes for a formula."""
    if not text.isprintable():
        refuse(f"{text!r} holds a control character", "use printable characters only")
    if text[0] in "=+-@":
        refuse(f"{text!r} starts like a spreadsheet formula", "start it with a letter or digit")
    return text


Name = Annotated[
    str,
    StringConstraints(strict=True, strip_whitespace=True, min_length=1, max_length=80),
    AfterValidator(_plain),
]
Text = Annotated[str, StringConstraints(strict=True, max_length=2000)]
Flag = Annotated[bool, Field(strict=True)]
Count = Annotated[int, Field(strict=True, ge=1, le=10_000)]
ChannelNumber = Annotated[int, Field(strict=True, ge=0, le=999)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Place(_Part):
    """Where the study applies."""

    name: Name
    note: Text = ""
    latitude: Annotated[float | None, Field(ge=-90, le=90, allow_inf_nan=False)] = None
    longitude: Annotated[float | None, Field(ge=-180, le=180, allow_inf_nan=False)] = None


class TvRaster(_Part):
    """How the TV channels of the region are numbered."""

    first_edge: Carrier
    width: Step
    first_number: ChannelNumber
    last_number: ChannelNumber

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.last_number < self.first_number:
            what = f"the last channel {self.last_number} is before the first {self.first_number}"
            refuse(what, "write the numbers in ascending order")
        return self

    def channel(self, number: int) -> tuple[int, int]:
        """Return the edges of a channel in hertz."""
        low = self.first_edge + (number - self.first_number) * self.width
        return low, low + self.width


class Exclusion(_Part):
    """A piece of spectrum that must not be used."""

    range: Range
    reason: Name


class BlockedChannel(Exclusion):
    """An exclusion that stands for a TV channel in use, with a guard on both sides."""

    channel: str
    low_hz: int
    high_hz: int


def _ranges(value: object, info: ValidationInfo) -> object:
    # Only a region says what is available where the study does not. A region that could not be
    # read is not among the data.
    data: dict[str, Any] | None = info.data  # none where the field is read alone
    if data is not None and (data.get("region") is not None or "region" not in data):
        return value or []
    if value is None:
        raise PydanticCustomError("missing", "missing")
    if value == []:
        bounds = {"min_length": 1, "actual_length": 0}
        raise PydanticCustomError("too_short", "too short", bounds)
    return value


def _lettered(value: object, number: ValidatorFunctionWrapHandler) -> object:
    """Let names such as "9A" through beside numbers; the region knows which there are."""
    if isinstance(value, str) and re.fullmatch(r"[0-9]{1,3}[A-Z]", value):
        return value
    return number(value)


OccupiedChannel = Annotated[
    ChannelNumber, WrapValidator(_lettered), PlainSerializer(lambda name: name, return_type=Any)
]


def _read(value: object, scan: ValidatorFunctionWrapHandler) -> object:
    """Let pass what stands for a scan whose file cannot be read; that has been told already."""
    return value if value is UNREAD else scan(value)


Scans = Annotated[
    list[Annotated[ScanUse, WrapValidator(_read)]],
    AfterValidator(lambda scans: [scan for scan in scans if scan is not UNREAD]),
]


class Availability(_Part):
    """The parts of the spectrum that may be used at the place, and who says so."""

    region: RegionKey | None = None
    ranges: Annotated[list[Range], BeforeValidator(_ranges), Field(validate_default=True)] = None  # type: ignore[assignment]
    tv_raster: TvRaster | None = None
    occupied: list[OccupiedChannel] = []
    edge_guard: Distance = 0
    exclusions: list[Exclusion] = []
    stations: StationTable | None = None
    licensed: Flag | None = None
    confirmed: list[Name] = []
    indoor: Indoor | None = None
    propagation: Propagation | None = None
    scans: Scans = []
    source: Text = ""
    as_of: dt.date | None = None

    @model_validator(mode="before")
    @classmethod
    def _usual_guard(cls, data: object) -> object:
        """Keep half a megahertz from TV stations unless told otherwise (common practice)."""
        if isinstance(data, Mapping) and missed(data):
            data = {**data, "region": UNREAD}
        if isinstance(data, Mapping) and data.get("stations") and "edge_guard" not in data:
            return {**data, "edge_guard": "500 kHz"}
        return data

    @model_serializer(mode="wrap")
    def _unsaid(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Leave out a list of occupied channels that was not given: an empty one says something."""
        fields: dict[str, Any] = handler(self)
        if "occupied" not in self.model_fields_set:
            fields.pop("occupied", None)
        return fields


class Profile(_Part):
    """What a class of equipment can tune and tolerate."""

    # Written too, and resolved before the study is read.
    resolved_keys: ClassVar[tuple[str, ...]] = ("class", "band")

    name: Name
    kind: Text = ""
    ranges: Annotated[list[Range], Field(min_length=1)]
    raster: Step
    raster_origin: Carrier | None = None
    bandwidth: Distance
    separation: Distance
    guards: Annotated[dict[Form, Guard], BeforeValidator(without_repeats)] = {}
    mixes: Flag = True
    part_of: str | None = None
    """The profile whose tuning ranges this one narrows."""
    bands: dict[Name, Range] = {}
    source: Text = ""
    as_of: dt.date | None = None

    @model_validator(mode="after")
    def _bands_inside(self) -> Self:
        for name, (low, high) in self.bands.items():
            if not any(a <= low and high <= b for a, b in self.ranges):
                refuse(f"the band {name!r} lies outside ranges", "keep bands, or keep ranges")
        return self

    @property
    def origin_hz(self) -> int:
        """A frequency on the raster: as given, or the lowest tuning edge."""
        lowest = min(low for low, _ in self.ranges)
        return lowest if self.raster_origin is None else self.raster_origin


class EquipmentClass(_Part):
    """What a generic class of equipment tunes and tolerates, or a maker's data sheet says."""

    name: Name
    kind: Name
    bands: Annotated[dict[Name, Range], Field(min_length=1)]
    raster: Step
    raster_origin: Carrier | None = None
    bandwidth: Distance
    separation: Distance
    guards: Annotated[dict[Form, Guard], BeforeValidator(without_repeats)] = {}
    mixes: Flag = True
    power: Text = ""
    source: Text = ""
    as_of: dt.date | None = None
    caution: Text = ""


def _zone(value: object) -> object:
    return {"name": value} if isinstance(value, str) else value


class Zone(_Part):
    """Where transmitters share the air."""

    name: Name
    note: Text = ""
    position_m: tuple[Coordinate, Coordinate] | None = None
    radius_m: Metres = 0.0


class Coupling(_Part):
    """How two zones share the air: the degree, or what it follows from."""

    zones: Annotated[list[str], Field(min_length=2, max_length=2)]
    degree: Degree | None = None
    isolation_db: Decibel | None = None
    distance_m: Metres | None = None
    walls: Annotated[int, Field(strict=True, ge=0, le=1000)] = 0

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.walls and {self.degree, self.isolation_db, self.distance_m} == {None}:
            what = "the pair has neither degree nor isolation_db, distance_m or walls"
            refuse(what, "write degree = 'full', 'separation' or 'none', or one of the others")
        return self


def _local(value: object) -> object:
    remedy = "write local time without offset or seconds, such as '2026-07-04T18:00'"
    if isinstance(value, str):
        try:
            value = dt.datetime.fromisoformat(value)
        except ValueError:
            refuse(f"{value!r} is not a date and time", remedy)
    if not isinstance(value, dt.datetime):
        refuse(f"{value} is not a date and time", remedy)
    if value.tzinfo is not None:
        refuse(f"{value.isoformat()} carries an offset from UTC", remedy)
    if value.second or value.microsecond:
        refuse(f"{value.isoformat()} is not a whole minute", remedy)
    return value


def _minute(value: dt.datetime) -> str:
    return value.isoformat(timespec="minutes")


LocalTime = Annotated[dt.datetime, BeforeValidator(_local), PlainSerializer(_minute, str)]


class Window(_Part):
    """A named time on the air, in local time."""

    name: Name
    start: LocalTime
    end: LocalTime
    margin: Minutes = 0

    @model_validator(mode="after")
    def _forward(self) -> Self:
        if self.end <= self.start:
            what = (
                f"the window ends at {_minute(self.end)}, not after its start {_minute(self.start)}"
            )
            refuse(what, "write an end after the start; past midnight, the next date")
        return self


class Demand(_Part):
    """Links of one profile in one zone, and their spares."""

    id: Name | None = None
    ids: list[Name] = []
    count: Count | None = None
    profile: str
    zone: str
    spares: Spares = "0"
    windows: list[str] = []
    priority: Annotated[int, Field(strict=True, ge=1, le=100)] = 1
    preferred: list[Range] = []
    party: Name | None = None
    wanted: list[Carrier] = []

    @model_validator(mode="after")
    def _one_way_to_name(self) -> Self:
        if not self.ids and (self.id is None or self.count is None):
            refuse("the row names no links", "write id and count, or a list of ids")
        if self.ids and self.count is not None:
            refuse("the row has both count and ids", "keep one of them")
        if self.ids and self.id is None and self.spare_count:
            refuse("the spares have no name", "add id: the spares are named id-spare-1 and on")
        if len(self.wanted) > self.size:
            what = f"{len(self.wanted)} frequencies are wanted for {self.size} links"
            refuse(what, "write one for each link at most, in the order of the links")
        return self

    @property
    def size(self) -> int:
        """Number of required links."""
        return len(self.ids) or (self.count or 0)

    @property
    def spare_count(self) -> int:
        """Number of spares; a share is rounded up."""
        return of(self.spares, self.size)

    @property
    def link_ids(self) -> list[str]:
        """Names of the required links."""
        return self.ids or [f"{self.id}-{n}" for n in range(1, self.size + 1)]

    @property
    def spare_ids(self) -> list[str]:
        """Names of the spares."""
        return [f"{self.id}-spare-{n}" for n in range(1, self.spare_count + 1)]


class SharedSpares(_Part):
    """Spares for any link of a zone whose profile can tune them."""

    id: Name
    profile: str
    zone: str
    count: Count
    windows: list[str] = []
    priority: Annotated[int, Field(strict=True, ge=1, le=100)] = 1
    preferred: list[Range] = []

    @property
    def spare_ids(self) -> list[str]:
        """Names of the spares."""
        return [f"{self.id}-{n}" for n in range(1, self.count + 1)]


class Incumbent(_Part):
    """A foreign carrier on the air already: coordinated with, never moved."""

    name: Name
    frequency: Carrier
    zone: str
    profile: str
    windows: list[str] = []


class StudyModel(_Part):
    """A whole study as written."""

    resolved_keys: ClassVar[tuple[str, ...]] = ("equipment",)

    format: Literal["sidon-study/1"]
    name: Name
    note: Text = ""
    place: Place
    availability: Availability
    profiles: Annotated[list[Profile], Field(min_length=1)]
    zones: Annotated[list[Annotated[Zone, BeforeValidator(_zone)]], Field(min_length=1)]
    couplings: list[Coupling] = []
    default_coupling: Degree = "full"
    isolation: Isolation | None = None
    timezone: TimeZone | None = None
    windows: list[Window] = []
    demand: Annotated[list[Demand], Field(min_length=1)]
    locks: dict[str, Carrier] = {}
    incumbents: list[Incumbent] = []
    spares: list[SharedSpares] = []
    classes: list[EquipmentClass] = []
    capacity: CapacityAsk | None = None


class QuestionModel(StudyModel):
    """A study that asks how many fit before anyone knows of which equipment, or where on site."""

    profiles: list[Profile] = []
    zones: list[Annotated[Zone, BeforeValidator(_zone)]] = []
    demand: list[Demand] = []
