"""What a region allows and how its TV channels are numbered: dated, sourced, open to users' own."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from sidon._faults import nearest, schema_faults
from sidon._files import read_text
from sidon._quantity import Carrier, Distance, Range, Step, refuse
from sidon._schema import shown
from sidon.exceptions import Fault, StudyError

__all__ = [
    "Band",
    "Channel",
    "Protection",
    "Raster",
    "Region",
    "Reserved",
    "Service",
    "read_region",
    "region",
    "region_names",
]

_NAME = re.compile(r"[0-9]{1,3}[A-Z]?")
_SPAN = re.compile(r"([0-9]{1,3})\s*-\s*([0-9]{1,3})")
_FORMAT = "sidon-region/1"


def _channel_name(value: object) -> str:
    text = str(value).strip() if isinstance(value, int | str) and value is not True else ""
    if not _NAME.fullmatch(text):
        what = f"{shown(value)} is not the name of a channel"
        refuse(what, "write a number such as 21, or a name such as '9A'")
    return text.lstrip("0") or "0"


def _channel_names(value: object) -> object:
    """Spell out "21-48"; a list is taken as it is."""
    span = _SPAN.fullmatch(value.strip()) if isinstance(value, str) else None
    if span is None:
        if isinstance(value, str):
            refuse(f"{shown(value)} is no span of channels", "write '21-48', or a list of names")
        return value
    first, last = int(span[1]), int(span[2])
    if last < first:
        refuse(f"{shown(value)} runs backwards", "write the lower channel first")
    return [str(n) for n in range(first, last + 1)]


ChannelName = Annotated[str, BeforeValidator(_channel_name)]
Box = tuple[
    Annotated[float, Field(ge=-90, le=90)],
    Annotated[float, Field(ge=-180, le=180)],
    Annotated[float, Field(ge=-90, le=90)],
    Annotated[float, Field(ge=-180, le=180)],
]
Level = Annotated[float, Field(ge=-50, le=200, allow_inf_nan=False)]
Label = Annotated[str, Field(min_length=1, max_length=80)]
Words = Annotated[str, Field(max_length=2000)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Entry(_Part):
    """What every entry says of itself.

    Parameters
    ----------
    as_of : date
        When it was last looked at.
    source : str
        Where it comes from.
    checked : bool
        Whether it was seen in that source; what was not is never taken as free.
    caution : str
        What to mind beside it.
    """

    as_of: dt.date
    source: Label | Words
    checked: Annotated[bool, Field(strict=True)]
    caution: Words = ""


class Channel(_Part):
    """A TV channel, which has no meaning without its region.

    Parameters
    ----------
    region, name : str
        The region, and what the channel is called there, such as "21" or "9A".
    low_hz, high_hz : int
        Its edges.
    band : str
        The raster it belongs to, such as "UHF".
    """

    region: str
    name: str
    low_hz: int
    high_hz: int
    band: str

    @property
    def centre_mhz(self) -> float:
        """Its middle in MHz."""
        return (self.low_hz + self.high_hz) / 2e6


class Raster(_Entry):
    """One evenly spaced piece of the TV channels of a region.

    Parameters
    ----------
    band : str
        Its name, which the field strengths of services refer to.
    channels : list of str
        Names in ascending frequency; the text "21-48" is spelled out.
    first_edge, width : int
        Lower edge of the first and width of each, in hertz.
    """

    band: Label
    channels: Annotated[list[ChannelName], BeforeValidator(_channel_names), Field(min_length=1)]
    first_edge: Carrier
    width: Step


class Band(_Entry):
    """A piece of spectrum that microphones may use, and under which rule.

    Parameters
    ----------
    name : str
        What to call it.
    ranges : list of (int, int)
        In hertz.
    basis : {"licence-exempt", "licence"}
        What it takes; "licence" stands for any permission that must be asked for.
    who : str
        Who may, and under what condition.
    power_mw : float, optional
        The limit in milliwatts.
    power_is : {"ERP", "EIRP", "conducted"}, optional
        What the limit limits.
    bandwidth : int, optional
        Widest emission in hertz.
    """

    name: Label
    ranges: Annotated[list[Range], Field(min_length=1)]
    basis: Literal["licence-exempt", "licence"]
    who: Words
    power_mw: Annotated[float | None, Field(gt=0, le=100_000, allow_inf_nan=False)] = None
    power_is: Literal["ERP", "EIRP", "conducted"] | None = None
    bandwidth: Distance | None = None

    @model_validator(mode="after")
    def _power_has_a_kind(self) -> Self:
        if (self.power_mw is None) != (self.power_is is None):
            refuse("a power limit needs number and kind", "write both power_mw and power_is")
        return self

    @property
    def rule(self) -> str:
        """The rule in words."""
        power = "" if self.power_mw is None else f", up to {self.power_mw:g} mW {self.power_is}"
        return f"{self.name}: {self.basis}{power}"


class Reserved(_Entry):
    """A piece of spectrum that microphones must not use.

    Parameters
    ----------
    range : (int, int)
        In hertz.
    reason : str
        Why.
    """

    range: Range
    reason: Label


class Service(_Entry):
    """A class of TV service and what marks the edge of its protected area.

    Parameters
    ----------
    name : str
        What station tables call it.
    field : dict of str to float
        Field strength at the protected contour in dBuV/m, by the band of the raster.
    time_percent : float
        Share of the time it is exceeded there, at half of the locations.
    erp_kw : (float, float)
        Between what powers its stations lie; anything else is taken for another unit.
    """

    name: Label
    field: Annotated[dict[str, Level], Field(min_length=1)]
    time_percent: Annotated[float, Field(ge=1, le=99)] = 50.0
    erp_kw: tuple[
        Annotated[float, Field(gt=0, allow_inf_nan=False)],
        Annotated[float, Field(gt=0, allow_inf_nan=False)],
    ]


class Protection(_Entry):
    """How far to stay from the protected contours of TV stations.

    Parameters
    ----------
    co_channel_km : float
        Least distance outside the contour of a station on the same channel.
    adjacent_km : float
        The same for the channels beside it; nearer, a guard is kept from their edges.
    indoor_dbm : float, optional
        Indoors, a channel may be used nearer where TV measures below this over the whole channel.
    receiver_height_m : float
        Height above ground at which fields are meant.
    """

    co_channel_km: Annotated[float, Field(ge=0, le=500)]
    adjacent_km: Annotated[float, Field(ge=0, le=500)]
    indoor_dbm: Annotated[float | None, Field(ge=-150, le=0)] = None
    receiver_height_m: Annotated[float, Field(ge=1, le=100)] = 10.0


class Region(_Part):
    """A region: rasters, bands, what is reserved, TV services and their protection.

    Parameters
    ----------
    format : str
        ``"sidon-region/1"``.
    name, title : str
        Short name, and what to print.
    caution : str
        What holds for the whole file.
    extent : list of (float, float, float, float)
        Boxes around its countries: south, west, north and east edges in degrees, roughly. A place
        outside of all is cautioned about.
    rasters, bands, reserved, services, protection
        See their classes.
    """

    format: Literal["sidon-region/1"]
    name: Label
    title: Words
    caution: Words
    extent: list[Box] = []
    rasters: list[Raster] = []
    bands: list[Band] = []
    reserved: list[Reserved] = []
    services: list[Service] = []
    protection: Protection | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        for kind, names in (
            ("channel", [name for raster in self.rasters for name in raster.channels]),
            ("band", [band.name for band in self.bands]),
            ("service", [service.name for service in self.services]),
        ):
            twice = sorted({name for name in names if names.count(name) > 1})
            if twice:
                refuse(f"the {kind} {twice[0]!r} stands twice", "give each its own name")
        for below, above in pairwise(self.channels):
            if above.low_hz < below.high_hz:
                what = f"the channels {below.name!r} and {above.name!r} overlap"
                refuse(what, "check first_edge and width of the rasters")
        known = [raster.band for raster in self.rasters]
        for service in self.services:
            for band in service.field:
                if band not in known:
                    what = f"the service {service.name!r} names the unknown band {band!r}"
                    refuse(what, nearest(band, known))
        if self.services and self.protection is None:
            refuse("services without a protection", "add the table protection")
        return self

    @property
    def channels(self) -> list[Channel]:
        """All TV channels, by frequency."""
        found = [
            Channel(
                region=self.name,
                name=name,
                low_hz=raster.first_edge + index * raster.width,
                high_hz=raster.first_edge + (index + 1) * raster.width,
                band=raster.band,
            )
            for raster in self.rasters
            for index, name in enumerate(raster.channels)
        ]
        return sorted(found, key=lambda channel: channel.low_hz)

    def channel(self, name: str | int) -> Channel:
        """Look a channel up by its name here.

        Parameters
        ----------
        name : str or int
            Such as 21 or "9A".

        Returns
        -------
        Channel
            Its edges.

        Raises
        ------
        StudyError
            When the region has no such channel; the remedy names those it has.
        """
        wanted = str(name).strip()
        for channel in self.channels:
            if channel.name == wanted:
                return channel
        what = f"{self.name!r} has no channel {wanted!r}"
        raise StudyError([Fault("channel", what, f"use {self.channel_words}")])

    @property
    def channel_words(self) -> str:
        """What its channels are called, in words."""
        spans = [(raster.channels[0], raster.channels[-1]) for raster in self.rasters]
        return ", ".join(a if a == b else f"{a} to {b}" for a, b in spans) or "none: it has none"

    def holds(self, latitude: float, longitude: float) -> bool:
        """Tell whether a place lies within the countries of the region, roughly.

        Parameters
        ----------
        latitude, longitude : float
            Degrees north and east.

        Returns
        -------
        bool
            True within a box of its extent, and where it says none.
        """
        return not self.extent or any(
            south <= latitude <= north and west <= longitude <= east
            for south, west, north, east in self.extent
        )

    def __repr__(self) -> str:
        return (
            f"Region({self.name!r}: {len(self.channels)} TV channels ({self.channel_words}), "
            f"{len(self.bands)} bands, {len(self.services)} services)"
        )

    def _repr_html_(self) -> str:
        unseen = sum(not band.checked for band in self.bands)
        said = f"{self!r}; {unseen} of the bands were not seen in their source. {self.caution}"
        return f"<p>{html.escape(self.title)}: {html.escape(said)}</p>"

    def service(self, name: str) -> Service | None:
        """Look a class of TV service up by its name."""
        return next((service for service in self.services if service.name == name), None)


@cache
def region_names() -> tuple[str, ...]:
    """List the regions that come with sidon.

    Returns
    -------
    tuple of str
        Their names.

    Examples
    --------
    >>> region_names()
    ('australia', 'ge06', 'japan', 'us')
    """
    found = (path.name for path in files(__package__).joinpath("data").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in found if name.endswith(".toml")))


def region(name_or_path: str | Path) -> Region:
    """Read what a region allows and how its TV channels are numbered.

    Parameters
    ----------
    name_or_path : str or Path
        One of `region_names`, or a TOML file of your own in the same form.

    Returns
    -------
    Region
        Everything dated and sourced; ``checked`` tells what was seen in its source.

    Raises
    ------
    StudyError
        When there is no such region, or the file holds faults; all are listed.
    OSError
        When the file cannot be read.

    Examples
    --------
    >>> import sidon
    >>> channel = sidon.region("us").channel(14)
    >>> channel.low_hz, channel.high_hz
    (470000000, 476000000)
    >>> sidon.region("japan").channel(14).low_hz
    476000000
    """
    if isinstance(name_or_path, str) and not name_or_path.lower().endswith(".toml"):
        if name_or_path not in region_names():
            what = f"there is no region {name_or_path!r}"
            remedy = nearest(name_or_path, region_names())
            raise StudyError([Fault("region", what, f"{remedy}, or name a .toml file of your own")])
        return _built_in(name_or_path)
    path = Path(name_or_path)
    return read_region(_toml(read_text(path), path.name), name=path.name)


@cache
def _built_in(name: str) -> Region:
    text = files(__package__).joinpath("data", f"{name}.toml").read_text(encoding="utf-8")
    return read_region(_toml(text, name), name=name)


def _toml(text: str, name: str) -> dict[str, Any]:
    import tomllib
    from decimal import Decimal

    try:
        return tomllib.loads(text.replace("\r\n", "\n"), parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        fault = Fault(name, f"it is not TOML: {error}", "correct it there")
        raise StudyError([fault]) from None


def read_region(mapping: Mapping[str, Any], *, name: str = "region") -> Region:
    """Read a region from plain data.

    Parameters
    ----------
    mapping : mapping
        As a region file says it; numbers are MHz.
    name : str, default "region"
        What faults call it.

    Returns
    -------
    Region
        Sound.

    Raises
    ------
    StudyError
        When it holds faults; all are listed.
    """
    try:
        return Region.model_validate(mapping)
    except ValidationError as error:
        found = [_in_file(fault, name) for fault in schema_faults(error, Region)]
        raise StudyError(found) from None


def _in_file(fault: Fault, name: str) -> Fault:
    place = name if fault.place == "the file" else f"{name}, {fault.place}"
    remedy = fault.remedy.replace("sidon-study/1", _FORMAT)
    return Fault(place, fault.what, remedy)
