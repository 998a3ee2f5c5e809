"""The shape of what a study says about its place: region, TV stations, licence, indoors."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer

from sidon._faults import nearest
from sidon._quantity import refuse
from sidon._schema import shown
from sidon.spectrum.region import Region, region, region_names
from sidon.spectrum.station import Station, StationOptions
from sidon.study.place_files import UNREAD

__all__ = ["Indoor", "RegionChoice", "RegionKey", "StationTable", "missed"]


class RegionChoice(BaseModel):
    """A region that comes with sidon, by name, or one of the study's own.

    Parameters
    ----------
    name : str, optional
        One of `sidon.spectrum.region_names`.
    file : str, optional
        Where the study's own was read from.
    data : Region, optional
        The study's own.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str | None = None
    file: str | None = None
    data: Region | None = None

    @property
    def region(self) -> Region | None:
        """The region; None when its file could not be read."""
        return self.data if self.name is None else region(self.name)


def _choice(value: object) -> object:
    remedy = f"use {', '.join(region_names())}, or name a .toml file of your own"
    if value is UNREAD:
        return RegionChoice()
    if isinstance(value, RegionChoice):
        return value
    if isinstance(value, str):
        if value not in region_names():
            close = nearest(value, region_names())
            remedy = f"{close}, or name a .toml file of your own" if "?" in close else remedy
            refuse(f"there is no region {shown(value)}", remedy)
        return {"name": value}
    if not isinstance(value, dict) or "data" not in value or value["data"] is None:
        refuse(f"{shown(value)} is no region", remedy)
    return {key: part for key, part in value.items() if key != "name"}


def _as_written(choice: RegionChoice | None) -> Any:  # noqa: ANN401 - text or a table
    if choice is None or choice.name is not None:
        return None if choice is None else choice.name
    return choice.model_dump(mode="json", exclude_none=True)


RegionKey = Annotated[RegionChoice, BeforeValidator(_choice), PlainSerializer(_as_written)]
"""What ``availability.region`` may hold."""


def missed(keys: Iterable[object]) -> bool:
    """Tell whether a key was meant for ``region`` and misspelt.

    Parameters
    ----------
    keys : iterable
        Those of ``availability``.

    Returns
    -------
    bool
        True when one comes close and none is it.
    """
    words = [key for key in keys if isinstance(key, str)]
    return "region" not in words and bool(get_close_matches("region", words, n=1, cutoff=0.7))


class StationTable(StationOptions):
    """The TV stations of a study.

    Parameters
    ----------
    file : str, optional
        Where they were read from.
    rows : list of Station
        What was read.
    covers : list of str
        Bands of TV channels, such as "VHF high", that the table covers although it has no station
        of them near the place.
    ignored : list of str
        Columns of the file that nothing was read from.
    """

    file: str | None = None
    rows: Annotated[list[Station], Field(min_length=1)]
    covers: list[Annotated[str, Field(max_length=80)]] = Field(default=[])
    ignored: list[str] = Field(default=[])


class Indoor(BaseModel):
    """That the place is indoors, and how strong TV measures there.

    Parameters
    ----------
    building : {"traditional", "thermally-efficient"}
        Kind of building, to estimate levels.
    measured_dbm : dict of str to float
        The level of TV over the whole channel, aerial turned to its maximum, by channel.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    building: Literal["traditional", "thermally-efficient"] = "traditional"
    measured_dbm: dict[str, Annotated[float, Field(ge=-200, le=30, allow_inf_nan=False)]] = {}
