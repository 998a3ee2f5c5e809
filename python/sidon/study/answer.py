"""From a study and what the search answered to a plan document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sidon.plan.caution import cautions, figures, isolation_cautions
from sidon.plan.document import (
    AskedRecord,
    AssignmentRecord,
    CouplingRecord,
    ExclusionRecord,
    IncumbentRecord,
    IsolationRecord,
    OccupiedRecord,
    PairRecord,
    PlaceRecord,
    PlanDocument,
    ProfileRecord,
    RefusedRecord,
    SearchRecord,
    SpectrumRecord,
    WindowRecord,
)
from sidon.plan.refusal import reason
from sidon.study.compile import Compiled, LinkRow
from sidon.study.coupling import couple, lowest_hz
from sidon.study.isolation import Isolation, free_space_db
from sidon.study.place_cautions import place_cautions
from sidon.study.scans import scan_cautions
from sidon.study.schema import Availability, BlockedChannel, StudyModel, Window
from sidon.study.spares import with_covers
from sidon.study.windows import on_air

if TYPE_CHECKING:
    import sidon

__all__ = ["plan_document"]


def plan_document(
    model: StudyModel,
    compiled: Compiled,
    problem: sidon.Problem,
    result: sidon.Result,
    *,
    method: str,
    iterations: int | None,
    seconds: float | None,
) -> PlanDocument:
    """Write down what the search answered.

    Parameters
    ----------
    model : StudyModel
        The study.
    compiled : Compiled
        The study compiled.
    problem : sidon.Problem
        The same, validated.
    result : sidon.Result
        The answer.
    method : str
        The method that found it.
    iterations, seconds : int, float, optional
        The limits it was given.

    Returns
    -------
    PlanDocument
        Self-contained.
    """
    import sidon

    model = with_covers(model)
    running = sidon.versions()
    frequencies = [int(hz) for hz in result.frequencies]
    rows = list(zip(compiled.links, frequencies, strict=True))
    used = {row.profile for row in compiled.links}
    return PlanDocument(
        format="sidon-plan/1",
        study=model.name,
        place=PlaceRecord(**model.place.model_dump()),
        caution=[
            *cautions(f"{p.name} {p.kind}" for p in model.profiles if p.name in used),
            *isolation_cautions(pair.basis for pair in couple(model)),
            *figures((p.name, p.source, p.as_of) for p in model.profiles if p.name in used),
            *place_cautions(model, rows),
            *scan_cautions(model.availability, model.profiles),
        ],
        profiles=_profiles(model),
        availability={name: list(t.ranges_hz) for name, t in compiled.tunings.items()},
        spectrum=_spectrum(model.availability),
        zones=[zone.name for zone in model.zones],
        couplings=[
            CouplingRecord(zones=pair, degree=degree) for pair, degree in compiled.degrees.items()
        ],
        windows=[_window(window, model.timezone) for window in model.windows],
        timezone=model.timezone,
        isolation=_isolation(model),
        asked=AskedRecord(
            required=[row.id for row in compiled.links if not (row.incumbent or row.spare)],
            spares=[row.id for row in compiled.links if row.spare],
        ),
        assignments=[_assignment(row, hz) for row, hz in rows if not row.incumbent and hz >= 0],
        incumbents=[_incumbent(row) for row in compiled.links if row.incumbent],
        refused=_refusals(compiled, problem, frequencies),
        seed=result.seed,
        search=SearchRecord(
            objective="max-service",
            method=method,
            status=result.status,
            stop_reason=result.stop_reason,
            iterations=iterations,
            seconds=seconds,
        ),
        versions={name: running[name] for name in ("sidon", "python", "numpy", "pydantic")},
    )


def _window(window: Window, timezone: str | None) -> WindowRecord:
    start, end = on_air(window, timezone)
    return WindowRecord(name=window.name, start=start, end=end, margin_min=window.margin)


def _isolation(model: StudyModel) -> IsolationRecord | None:
    """Write down what the degrees follow from; nothing where every one is given."""
    pairs = [pair for pair in couple(model) if pair.isolation_db is not None]
    if model.isolation is None and not pairs:
        return None
    rules = model.isolation or Isolation()
    hertz = rules.frequency or lowest_hz(model)
    separation, none = rules.thresholds_db
    return IsolationRecord(
        exponent=rules.exponent,
        reference_m=rules.reference_m,
        reference_loss_db=round(
            free_space_db(rules.reference_m, hertz)
            if rules.reference_loss_db is None
            else rules.reference_loss_db,
            2,
        ),
        frequency_hz=hertz,
        wall_db=rules.wall_db,
        body_db=rules.body_db,
        margin_db=rules.margin_db,
        separation_from_db=separation,
        none_from_db=none,
        pairs=[
            PairRecord(
                zones=pair.zones,
                isolation_db=pair.isolation_db or 0.0,
                degree=pair.degree,
                basis=pair.basis,
            )
            for pair in pairs
        ],
    )


def _profiles(model: StudyModel) -> list[ProfileRecord]:
    return [
        ProfileRecord(
            name=profile.name,
            kind=profile.kind,
            separation_hz=profile.separation,
            guards_hz=profile.guards,
            mixes=profile.mixes,
            raster_hz=profile.raster,
            raster_origin_hz=profile.origin_hz,
            bandwidth_hz=profile.bandwidth,
        )
        for profile in model.profiles
    ]


def _spectrum(availability: Availability) -> SpectrumRecord:
    raster = availability.tv_raster
    occupied = []
    for number in sorted(availability.occupied):
        if raster is None:
            break
        low, high = raster.channel(number)
        occupied.append(OccupiedRecord(channel=number, low_hz=low, high_hz=high))
    numbered = [
        e
        for e in availability.exclusions
        if isinstance(e, BlockedChannel) and e.channel.isdecimal()
    ]
    occupied += [
        OccupiedRecord(channel=int(e.channel), low_hz=e.low_hz, high_hz=e.high_hz) for e in numbered
    ]
    return SpectrumRecord(
        ranges_hz=sorted(availability.ranges),
        occupied=occupied,
        edge_guard_hz=availability.edge_guard,
        exclusions=[
            ExclusionRecord(low_hz=e.range[0], high_hz=e.range[1], reason=e.reason)
            for e in availability.exclusions
            if e not in numbered
        ],
        source=availability.source,
        as_of=availability.as_of,
    )


def _assignment(row: LinkRow, hz: int) -> AssignmentRecord:
    return AssignmentRecord(
        link=row.id,
        zone=row.zone,
        profile=row.profile,
        frequency_hz=hz,
        spare=row.spare,
        locked=row.locked_hz is not None,
        windows=list(row.windows),
        priority=row.priority,
        shared=row.shared,
        party=row.party,
        wanted_hz=row.wanted_hz,
    )


def _incumbent(row: LinkRow) -> IncumbentRecord:
    if row.locked_hz is None:
        what = f"the foreign carrier {row.id!r} has no frequency"
        raise AssertionError(what)
    return IncumbentRecord(
        name=row.id,
        zone=row.zone,
        profile=row.profile,
        frequency_hz=row.locked_hz,
        windows=list(row.windows),
    )


def _refusals(
    compiled: Compiled, problem: sidon.Problem, frequencies: list[int]
) -> list[RefusedRecord]:
    from sidon.solve import refusals

    # Links of one profile, zone and time that are all off the air are blocked alike.
    def alike(row: LinkRow) -> tuple[object, ...]:
        return row.profile, row.zone, frozenset(row.windows), row.locked_hz

    off = [
        (index, row)
        for index, (row, hz) in enumerate(zip(compiled.links, frequencies, strict=True))
        if not row.incumbent and hz < 0
    ]
    first: dict[tuple[object, ...], int] = {}
    for index, row in off:
        first.setdefault(alike(row), index)
    blocked = refusals(problem, frequencies, list(first.values())) if first else []
    reasons = {key: reason(why) for key, why in zip(first, blocked, strict=True)}
    return [_refused(row, reasons[alike(row)]) for _, row in off]


def _refused(row: LinkRow, why: str) -> RefusedRecord:
    return RefusedRecord(
        link=row.id,
        reason=why,
        zone=row.zone,
        profile=row.profile,
        spare=row.spare,
        locked=row.locked_hz is not None,
        windows=list(row.windows),
        priority=row.priority,
        shared=row.shared,
        party=row.party,
        wanted_hz=row.wanted_hz,
    )
