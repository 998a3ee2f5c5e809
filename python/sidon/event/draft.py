"""A plan with changes applied to it and nobody moved yet; every fault of the changes at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from sidon._arrays import FaultList, Guards, distance, guard_list
from sidon._faults import nearest
from sidon._options import whole_number
from sidon.event import changes as kinds
from sidon.exceptions import Fault, InvalidProblemError
from sidon.plan.document import (
    AssignmentRecord,
    ExclusionRecord,
    IncumbentRecord,
    OccupiedRecord,
    PlanDocument,
    ProfileRecord,
)
from sidon.result import REFUSED
from sidon.units import mhz_text

__all__ = ["Draft", "draft_of"]

Span = tuple[int, int]
T = TypeVar("T")

_MOST_ARRIVALS = 10_000
_MOST_PRIORITY = 100
_UNPLACED_HZ = 1
"""Stands in a row for a carrier that has no place yet; `Draft.hertz` tells."""


@dataclass(frozen=True)
class Draft:
    """A plan under new circumstances, before anybody has moved.

    Parameters
    ----------
    before : PlanDocument
        As it was.
    after : PlanDocument
        With all changes; its assignments are all links that want a carrier.
    hertz : tuple of int
        Where each of them stands; -1 for those that have just arrived.
    avoided : dict of str to list of (int, int)
        Open ranges of carrier centres that a link must avoid besides, by name.
    """

    before: PlanDocument
    after: PlanDocument
    hertz: tuple[int, ...]
    avoided: Mapping[str, list[Span]]


@dataclass
class _Sheet:
    """The changing parts of a plan, and the faults found on the way."""

    before: PlanDocument
    rows: dict[str, AssignmentRecord]
    profiles: dict[str, ProfileRecord]
    availability: dict[str, list[Span]]
    incumbents: dict[str, IncumbentRecord]
    required: list[str]
    exclusions: list[ExclusionRecord] = field(default_factory=list)
    occupied: list[OccupiedRecord] = field(default_factory=list)
    avoided: dict[str, list[Span]] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)
    new: set[str] = field(default_factory=set)
    faults: FaultList = field(default_factory=FaultList)

    def known(self, place: str, kind: str, name: object, names: Iterable[str]) -> bool:
        """Whether this is one of the names; a fault if not."""
        names = list(names)
        if isinstance(name, str) and name in names:
            return True
        self.faults.add(place, f"no {kind} is named {name!r}", nearest(str(name), names))
        return False

    def hertz(self, place: str, value: object, *, least: int = 0) -> int | None:
        """Read a frequency or distance; a fault if it is none."""
        hz = self.faults.take(None, distance, value, place)
        if hz is not None and not least <= hz <= 10**12:
            what = f"{mhz_text(hz)} MHz is out of range"
            self.faults.add(place, what, f"give {least} Hz or more, below a terahertz")
            return None
        return hz


def draft_of(
    document: PlanDocument, changes: Sequence[object], *, locks_hold: bool = True
) -> Draft:
    """Apply changes to a plan in order.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    changes : sequence of Change
        What happened.
    locks_hold : bool, default True
        Whether a locked link that could not stay is a fault.

    Returns
    -------
    Draft
        Nobody has moved yet.

    Raises
    ------
    InvalidProblemError
        When a change does not go with the plan; every fault is listed.
    """
    sheet = _Sheet(
        before=document,
        rows={row.link: row for row in document.assignments},
        profiles={profile.name: profile for profile in document.profiles},
        availability={name: list(spans) for name, spans in document.availability.items()},
        incumbents={row.name: row for row in document.incumbents},
        required=list(document.asked.required),
    )
    for index, change in enumerate(changes):
        place = f"changes[{index}]"
        apply = _APPLY.get(type(change))
        if apply is None:
            what = f"a {type(change).__name__} is no change"
            remedy = f"give one of {', '.join(kind.__name__ for kind in _APPLY)}"
            sheet.faults.add(place, what, remedy)
        else:
            apply(sheet, place, change)
    if locks_hold:
        _locks_hold(sheet)
    sheet.faults.raise_if_any()
    return _finished(sheet)


def _finished(sheet: _Sheet) -> Draft:
    before = sheet.before
    spectrum = before.spectrum
    if spectrum is not None:
        spectrum = spectrum.model_copy(
            update={
                "exclusions": [*spectrum.exclusions, *sheet.exclusions],
                "occupied": sorted(
                    [*spectrum.occupied, *sheet.occupied], key=lambda row: row.channel
                ),
            }
        )
    asked = before.asked.model_copy(
        update={
            "required": [name for name in sheet.required if name not in sheet.gone],
            "spares": [name for name in before.asked.spares if name not in sheet.gone],
        }
    )
    rows = list(sheet.rows.values())
    after = before.model_copy(
        update={
            "profiles": list(sheet.profiles.values()),
            "availability": sheet.availability,
            "spectrum": spectrum,
            "asked": asked,
            "assignments": rows,
            "incumbents": list(sheet.incumbents.values()),
            "refused": [row for row in before.refused if row.link not in sheet.gone],
        }
    )
    hertz = tuple(REFUSED if row.link in sheet.new else row.frequency_hz for row in rows)
    return Draft(before, after, hertz, sheet.avoided)


def _carve(spans: list[Span], low: int, high: int) -> list[Span]:
    """Take an open range out of closed ones."""
    left = []
    for a, b in spans:
        if high <= a or low >= b:
            left.append((a, b))
        else:
            left += [(x, y) for x, y in ((a, low), (high, b)) if x <= y and a <= x and y <= b]
    return left


def _take_away(sheet: _Sheet, low: int, high: int) -> None:
    for name, profile in sheet.profiles.items():
        half = -(-profile.bandwidth_hz // 2)
        spans = sheet.availability.get(name, [])
        sheet.availability[name] = _carve(spans, low - half, high + half)


def _block(sheet: _Sheet, place: str, change: kinds.Block) -> None:
    low = sheet.hertz(f"{place}.low", change.low, least=1)
    high = sheet.hertz(f"{place}.high", change.high, least=1)
    usual = sheet.before.spectrum.edge_guard_hz if sheet.before.spectrum else 0
    guard: int | None = usual
    if change.edge_guard is not None:
        guard = sheet.hertz(f"{place}.edge_guard", change.edge_guard)
    if low is None or high is None or guard is None:
        return
    if low >= high:
        what = f"the lower edge {mhz_text(low)} MHz is not below the upper {mhz_text(high)} MHz"
        remedy = f"write the lower edge first: {mhz_text(high)} to {mhz_text(low)} MHz"
        sheet.faults.add(place, what, remedy if low > high else "give a range, not one frequency")
        return
    if high < 1_000_000:
        what = f"{mhz_text(low)}-{mhz_text(high)} MHz is below a megahertz"
        sheet.faults.add(place, what, "numbers are hertz; multiply by sidon.MHz")
        return
    low, high = max(0, low - guard), high + guard
    _take_away(sheet, low, high)
    kept = f" (edge guard of {mhz_text(guard)} MHz included)" if guard else ""
    reason = (str(change.reason) or "blocked") + kept
    sheet.exclusions.append(ExclusionRecord(low_hz=low, high_hz=high, reason=reason))


def _channel(sheet: _Sheet, place: str, change: kinds.Channel) -> None:
    spectrum = sheet.before.spectrum
    number = whole_number(change.number)
    if number is None or not 0 <= number <= 999:
        sheet.faults.add(place, f"{change.number!r} is no channel", "give a number such as 21")
        return
    if spectrum is None or not spectrum.occupied:
        remedy = "give the edges: Block(low, high)"
        sheet.faults.add(place, "the plan does not tell where its channels lie", remedy)
        return
    known = spectrum.occupied[0]
    width = known.high_hz - known.low_hz
    low = known.low_hz + (number - known.channel) * width
    if low <= 0:
        what = f"channel {number} would lie below zero"
        sheet.faults.add(place, what, f"channel {known.channel} is at {mhz_text(known.low_hz)} MHz")
        return
    if any(row.channel == number for row in [*spectrum.occupied, *sheet.occupied]):
        return
    guard = spectrum.edge_guard_hz
    reach = low - guard, low + width + guard
    if spectrum.ranges_hz and not any(reach[0] < b and a < reach[1] for a, b in spectrum.ranges_hz):
        where = f"{mhz_text(low)}-{mhz_text(low + width)} MHz"
        what = f"channel {number} would be {where}, outside the spectrum of this plan"
        first, last = _channels(spectrum.ranges_hz, known)
        sheet.faults.add(
            place, what, f"give one of {first} to {last}, or the edges: Block(low, high)"
        )
        return
    _take_away(sheet, *reach)
    sheet.occupied.append(OccupiedRecord(channel=number, low_hz=low, high_hz=low + width))


def _channels(ranges: Sequence[Span], known: OccupiedRecord) -> tuple[int, int]:
    """Tell the lowest and the highest channel that reach into these ranges."""
    width = known.high_hz - known.low_hz
    lowest, highest = min(a for a, _ in ranges), max(b for _, b in ranges)
    first = (lowest - known.low_hz) // width
    last = -((known.low_hz - highest) // width) - 1
    return known.channel + first, known.channel + last


def _hit(sheet: _Sheet, place: str, change: kinds.Hit) -> None:
    if not sheet.known(f"{place}.link", "link with a carrier", change.link, sheet.rows):
        return
    row = sheet.rows[change.link]
    if row.link in sheet.new:
        sheet.faults.add(place, f"{row.link!r} has only just arrived", "drop this change")
        return
    profile = sheet.profiles[row.profile]
    width: int | None = max(profile.separation_hz, profile.bandwidth_hz, 1)
    if change.width is not None:
        width = sheet.hertz(f"{place}.width", change.width, least=1)
    if width is None:
        return
    if not change.everyone:
        spot = row.frequency_hz - width, row.frequency_hz + width
        sheet.avoided.setdefault(row.link, []).append(spot)
        return
    # A foreign carrier that only keeps its distance: the plan remembers it, and only where it is.
    kind = f"interference ({mhz_text(width)} MHz)"
    sheet.profiles[kind] = ProfileRecord(
        name=kind,
        kind="interference",
        separation_hz=width,
        guards_hz={},
        mixes=False,
        raster_hz=profile.raster_hz,
        raster_origin_hz=profile.raster_origin_hz,
    )
    name = f"interference on {row.link}"
    taken = {*sheet.required, *sheet.before.asked.spares, *sheet.incumbents}
    number = 1
    while name in taken:
        number += 1
        name = f"interference on {row.link} ({number})"
    sheet.incumbents[name] = IncumbentRecord(
        name=name,
        zone=row.zone,
        profile=kind,
        frequency_hz=row.frequency_hz,
        windows=row.windows,
    )


def _arrive(sheet: _Sheet, place: str, change: kinds.Arrive) -> None:
    good = sheet.known(f"{place}.profile", "profile", change.profile, sheet.profiles)
    good &= sheet.known(f"{place}.zone", "zone", change.zone, sheet.before.zones)
    good &= _windows(sheet, place, change.windows)
    numbers = {
        "count": (change.count, _MOST_ARRIVALS),
        "priority": (change.priority, _MOST_PRIORITY),
    }
    for key, (value, most) in numbers.items():
        n = whole_number(value)
        if n is None or not 1 <= n <= most:
            remedy = f"give a whole number, 1 to {most:,}"
            sheet.faults.add(f"{place}.{key}", f"{value!r} is out of range", remedy)
            good = False
    if not good:
        return
    taken = {*sheet.required, *sheet.before.asked.spares, *sheet.incumbents}
    stem = change.name or change.profile
    names: list[str] = []
    number = 0
    while len(names) < change.count:
        number += 1
        name = f"{stem}-{number}"
        if name not in taken:
            names.append(name)
        elif change.name:
            sheet.faults.add(f"{place}.name", f"{name!r} is a carrier already", "choose another")
            return
    for name in names:
        sheet.rows[name] = AssignmentRecord(
            link=name,
            zone=change.zone,
            profile=change.profile,
            frequency_hz=_UNPLACED_HZ,
            windows=list(dict.fromkeys(change.windows)),
            priority=change.priority,
            party=change.party or None,
        )
    sheet.required += names
    sheet.new |= set(names)


def _windows(sheet: _Sheet, place: str, windows: Sequence[str]) -> bool:
    if isinstance(windows, str):
        sheet.faults.add(f"{place}.windows", "a text is no list of names", f"write [{windows!r}]")
        return False
    known = [window.name for window in sheet.before.windows]
    good = [sheet.known(f"{place}.windows", "window", name, known) for name in windows]
    return all(good)


def _each(links: str | Sequence[str]) -> list[str]:
    return [links] if isinstance(links, str) else list(links)


def _leave(sheet: _Sheet, place: str, change: kinds.Leave) -> None:
    refused = {row.link for row in sheet.before.refused}
    for link in _each(change.links):
        names = [name for name in (*sheet.rows, *refused) if name not in sheet.gone]
        if sheet.known(f"{place}.links", "link", link, names):
            sheet.rows.pop(link, None)
            sheet.avoided.pop(link, None)
            sheet.gone.add(link)


def _unlock(sheet: _Sheet, place: str, change: kinds.Unlock) -> None:
    for link in _each(change.links):
        if sheet.known(f"{place}.links", "link with a carrier", link, sheet.rows):
            sheet.rows[link] = sheet.rows[link].model_copy(update={"locked": False})


def _swap(sheet: _Sheet, place: str, change: kinds.Swap) -> None:
    if not sheet.known(f"{place}.profile", "profile", change.profile, sheet.profiles):
        return
    for link in _each(change.links):
        if sheet.known(f"{place}.links", "link with a carrier", link, sheet.rows):
            row = sheet.rows[link]
            sheet.rows[link] = row.model_copy(update={"profile": change.profile})


def _rules(sheet: _Sheet, place: str, change: kinds.Rules) -> None:
    if not sheet.known(f"{place}.profile", "profile", change.profile, sheet.profiles):
        return
    profile = sheet.profiles[change.profile]
    update: dict[str, object] = {}
    if change.separation is not None:
        update["separation_hz"] = sheet.hertz(f"{place}.separation", change.separation)
    if change.guards is not None:
        guards = sheet.faults.take(None, _guards, place, change.guards)
        if guards is not None:
            update["guards_hz"] = dict(guard_list(profile.guards_hz)) | guards
    mixes: object = change.mixes
    if isinstance(mixes, bool):
        update["mixes"] = mixes
    elif mixes is not None:
        remedy = "give True or False"
        sheet.faults.add(f"{place}.mixes", f"{mixes!r} is no truth value", remedy)
    sheet.profiles[change.profile] = profile.model_copy(update=update)


def _guards(place: str, guards: Guards) -> dict[str, int]:
    try:
        return dict(guard_list(guards))
    except InvalidProblemError as error:
        faults = [Fault(f"{place}.{f.place}", f.what, f.remedy) for f in error.faults]
        raise InvalidProblemError(faults) from None


def _foreign(sheet: _Sheet, place: str, change: kinds.Foreign) -> None:
    good = sheet.known(f"{place}.profile", "profile", change.profile, sheet.profiles)
    good &= sheet.known(f"{place}.zone", "zone", change.zone, sheet.before.zones)
    good &= _windows(sheet, place, change.windows)
    hz = sheet.hertz(f"{place}.frequency", change.frequency, least=100_000)
    taken = {*sheet.required, *sheet.before.asked.spares, *sheet.incumbents}
    if not str(change.name) or change.name in taken:
        sheet.faults.add(f"{place}.name", f"{change.name!r} is empty or taken", "choose another")
        return
    if good and hz is not None:
        sheet.incumbents[change.name] = IncumbentRecord(
            name=change.name,
            zone=change.zone,
            profile=change.profile,
            frequency_hz=hz,
            windows=list(dict.fromkeys(change.windows)),
        )


def _locks_hold(sheet: _Sheet) -> None:
    """Locked links never move: a change that would make one move cannot be repaired."""
    remedy = "add Unlock({0!r}) to let it move, or Leave({0!r})"
    for row in sheet.rows.values():
        if not row.locked:
            continue
        profile = sheet.profiles[row.profile]
        hz = row.frequency_hz
        on = (hz - profile.raster_origin_hz) % profile.raster_hz == 0 and any(
            low <= hz <= high for low, high in sheet.availability.get(row.profile, [])
        )
        avoided = any(low < hz < high for low, high in sheet.avoided.get(row.link, []))
        if avoided or not on:
            why = "is hit" if avoided else "may no longer stand"
            what = f"it {why} on {mhz_text(hz)} MHz, and may not move"
            sheet.faults.add(f"locked link {row.link!r}", what, remedy.format(row.link))


_APPLY: dict[type, Callable[..., None]] = {
    kinds.Block: _block,
    kinds.Channel: _channel,
    kinds.Hit: _hit,
    kinds.Arrive: _arrive,
    kinds.Leave: _leave,
    kinds.Swap: _swap,
    kinds.Rules: _rules,
    kinds.Foreign: _foreign,
    kinds.Unlock: _unlock,
}
