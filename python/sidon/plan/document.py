"""The shape of plan.json, `sidon-plan/1`: self-contained, so that anyone can verify a plan.

A plan holds everything its rules need and nothing that must be looked up:

``format``
    ``"sidon-plan/1"``.
``study``, ``place``, ``caution``
    What was planned, where, and what a reader must mind.
``profiles``
    Equipment classes: ``name``, ``kind``, ``separation_hz``, ``guards_hz`` by product form,
    ``mixes``, ``raster_hz``, ``raster_origin_hz``, ``bandwidth_hz``.
``availability``
    For each profile a list of closed ranges ``[low_hz, high_hz]`` for carrier centres.
``spectrum``
    What the availability was made from: ranges, occupied TV channels, exclusions, source and date.
``zones``, ``couplings``
    Names, and the degree of every pair: ``full``, ``separation`` or ``none``. A zone is fully
    coupled to itself. Every pair is listed; a plan that leaves one out is refused, so that no
    reader has to know a default.
``windows``
    Names with start and end in local time; the end is the first minute off the air. A margin of
    ``margin_min`` minutes is within both.
``timezone``, ``isolation``
    Where the local time is; what degrees of coupling were taken from. For the reader: no rule
    needs them.
``asked``
    The names of all links asked for, ``required`` and ``spares``: what is lost from
    ``assignments`` is noticed. No other link may be assigned or refused.
``assignments``
    ``link``, ``zone``, ``profile``, ``frequency_hz``, ``spare``, ``locked``, ``windows`` (empty:
    always on the air), ``priority`` (1 where it is not given),
    ``shared`` (a spare for any link of its zone whose profile can tune it); ``party`` and
    ``wanted_hz`` where someone asked for it, else null.
``incumbents``
    Foreign carriers the plan keeps clear of: ``name``, ``zone``, ``profile``, ``frequency_hz``,
    ``windows``.
``refused``
    ``link`` and ``reason``, with ``zone``, ``profile``, ``spare``, ``locked``, ``windows``,
    ``priority``, ``shared``, ``party``, ``wanted_hz``.
``seed``, ``search``, ``versions``
    How the plan was found, and with what.

To verify: every carrier lies on its profile's raster and in its availability; two carriers that
share air (equal or coupled zones) and time are at least the larger of their separations apart; no
product ``abs(product - victim) < guard`` of sources that mix, with sources and victim distinct,
pairwise in equal or fully coupled zones, and all on the air at one instant (a product exactly at
the guard is allowed); and every required link that is asked for has a carrier.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "FORMAT",
    "AskedRecord",
    "AssignmentRecord",
    "CouplingRecord",
    "ExclusionRecord",
    "IncumbentRecord",
    "IsolationRecord",
    "OccupiedRecord",
    "PairRecord",
    "PlaceRecord",
    "PlanDocument",
    "ProfileRecord",
    "RefusedRecord",
    "SearchRecord",
    "SpectrumRecord",
    "WindowRecord",
]

FORMAT = "sidon-plan/1"

# Beyond a terahertz there is no radio, and sums of hertz would leave 64 bits.
_MOST_HZ = 1_000_000_000_000

Hertz = Annotated[int, Field(strict=True, ge=0, le=_MOST_HZ)]
Positive = Annotated[int, Field(strict=True, gt=0, le=_MOST_HZ)]
Priority = Annotated[int, Field(strict=True, ge=1, le=1_000)]
Flag = Annotated[bool, Field(strict=True)]
Name = Annotated[str, Field(strict=True, min_length=1)]
HertzRange = tuple[Hertz, Hertz]


class _Record(BaseModel):
    # A misspelt key passed over in silence would weaken the check.
    model_config = ConfigDict(extra="forbid", frozen=True)


class PlaceRecord(_Record):
    """Where the plan applies."""

    name: Name
    note: str = ""
    latitude: float | None = None
    longitude: float | None = None


class ProfileRecord(_Record):
    """What a class of equipment tolerates, in hertz."""

    name: Name
    kind: str = ""
    separation_hz: Hertz
    guards_hz: dict[str, Hertz]
    mixes: Flag
    raster_hz: Positive
    raster_origin_hz: Hertz
    bandwidth_hz: Hertz = 0


class OccupiedRecord(_Record):
    """A TV channel in use."""

    channel: int
    low_hz: Hertz
    high_hz: Hertz


class ExclusionRecord(_Record):
    """A piece of spectrum that must not be used."""

    low_hz: Hertz
    high_hz: Hertz
    reason: str


class SpectrumRecord(_Record):
    """What the availability was made from."""

    ranges_hz: list[HertzRange]
    occupied: list[OccupiedRecord] = []
    edge_guard_hz: Hertz = 0
    exclusions: list[ExclusionRecord] = []
    source: str = ""
    as_of: dt.date | None = None


class CouplingRecord(_Record):
    """How two zones share the air."""

    zones: tuple[Name, Name]
    degree: Literal["full", "separation", "none"]


class WindowRecord(_Record):
    """A named time on the air, in local time."""

    name: Name
    start: dt.datetime
    end: dt.datetime
    margin_min: Annotated[int, Field(strict=True, ge=0)] = 0


class PairRecord(_Record):
    """The isolation between two zones, and the degree that was taken."""

    zones: tuple[Name, Name]
    isolation_db: float
    degree: Literal["full", "separation", "none"]
    basis: str


class IsolationRecord(_Record):
    """How isolation was computed, and from where on carriers and products no longer matter."""

    exponent: float
    reference_m: float
    reference_loss_db: float
    frequency_hz: Positive
    wall_db: float
    body_db: float
    margin_db: float
    separation_from_db: float
    none_from_db: float
    pairs: list[PairRecord] = []


class AskedRecord(_Record):
    """The names of all links that were asked for."""

    required: list[Name]
    spares: list[Name] = []


class AssignmentRecord(_Record):
    """A link on a frequency."""

    link: Name
    zone: Name
    profile: Name
    frequency_hz: Positive
    spare: Flag = False
    locked: Flag = False
    windows: list[Name] = []
    priority: Priority = 1
    shared: Flag = False
    party: Name | None = None
    wanted_hz: Positive | None = None


class IncumbentRecord(_Record):
    """A foreign carrier the plan keeps clear of."""

    name: Name
    zone: Name
    profile: Name
    frequency_hz: Positive
    windows: list[Name] = []


class RefusedRecord(_Record):
    """A link without a frequency, and why."""

    link: Name
    reason: str
    zone: str = ""
    profile: str = ""
    spare: Flag = False
    locked: Flag = False
    windows: list[Name] = []
    priority: Priority = 1
    shared: Flag = False
    party: Name | None = None
    wanted_hz: Positive | None = None


class SearchRecord(_Record):
    """How the plan was found: what to repeat, not what it took, so that equal runs are equal files.

    ``iterations`` and ``seconds`` are the limits that were given.
    """

    objective: str
    method: str
    status: str
    stop_reason: str
    iterations: int | None = None
    seconds: float | None = None


class PlanDocument(_Record):
    """A whole plan as written."""

    format: Literal["sidon-plan/1"]
    study: str = ""
    place: PlaceRecord | None = None
    caution: list[str] = []
    profiles: list[ProfileRecord]
    availability: dict[str, list[HertzRange]]
    spectrum: SpectrumRecord | None = None
    zones: list[Name]
    couplings: list[CouplingRecord] = []
    windows: list[WindowRecord] = []
    timezone: str | None = None
    isolation: IsolationRecord | None = None
    asked: AskedRecord
    assignments: list[AssignmentRecord]
    incumbents: list[IncumbentRecord] = []
    refused: list[RefusedRecord] = []
    seed: int | None = None
    search: SearchRecord | None = None
    versions: dict[str, str] = {}
