"""The key `capacity` of a study: how many carriers are wanted, now and later, and what if."""

from __future__ import annotations

import re
from typing import Annotated, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    model_validator,
)

from sidon._quantity import Distance, refuse
from sidon.study.forms import Form
from sidon.study.share import Growth, Spares

__all__ = ["CapacityAsk", "InEars", "Rooms"]

_Count = Annotated[int, Field(strict=True, ge=1, le=10_000)]
_Some = Annotated[int, Field(strict=True, ge=0, le=10_000)]


def _channel(value: object) -> str:
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if not isinstance(text, str) or not re.fullmatch(r"[0-9]{1,3}[A-Z]?", text):
        refuse(f"{value!r} is not a TV channel", "write its number, or its name such as '9A'")
    return text


def _as_written(channel: str) -> int | str:
    return int(channel) if channel.isdecimal() else channel


_Channel = Annotated[str, BeforeValidator(_channel), PlainSerializer(_as_written)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class InEars(_Part):
    """Mixes for in-ear monitors; how many transmitters they take."""

    stereo: _Some = 0
    mono: _Some = 0
    dual_mono: Annotated[bool, Field(strict=True)] = True

    @model_validator(mode="after")
    def _some(self) -> Self:
        if not self.stereo + self.mono:
            refuse("no mix is asked for", "write stereo, mono or both, or leave in_ears out")
        return self


class Rooms(_Part):
    """Growth by rooms, which are taken to share the air."""

    count: _Count
    carriers: _Count


class CapacityAsk(_Part):
    """What is asked of the spectrum, beside what a plan needs.

    ``ask`` and ``in_ears`` take the place of demand where there is none yet. ``channels``,
    ``waive`` and ``edge_guards`` name what is tried; without them each free TV channel in turn,
    three-tone products, and half and twice the edge guard.
    """

    ask: _Count | None = None
    in_ears: InEars | None = None
    spares: Spares | None = None
    growth: Growth | None = None
    rooms: Rooms | None = None
    years: Annotated[int, Field(strict=True, ge=1, le=50)] = 3
    channels: list[_Channel] = []
    waive: list[Form] = ["A+B-C"]
    edge_guards: list[Distance] | None = None
    mixes: list[Annotated[list[str], Field(min_length=2, max_length=2)]] = []

    @model_validator(mode="after")
    def _one_growth(self) -> Self:
        if self.growth is not None and self.rooms is not None:
            refuse("growth is given twice", "keep growth or rooms")
        return self
