"""Which rules differ between two plans: those of a link, and those of the plan as a whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from sidon.plan.document import (
    AssignmentRecord,
    IncumbentRecord,
    PlanDocument,
    ProfileRecord,
    RefusedRecord,
)
from sidon.units import mhz_text

__all__ = ["LinkRules", "link_rules", "rule_changes", "without"]

Span = tuple[int, int]


@dataclass(frozen=True)
class LinkRules:
    """What one link must keep to.

    Parameters
    ----------
    zone, profile : str
        Its names.
    tolerates : ProfileRecord or None
        Its profile's figures; None for a profile that is not in the plan.
    windows : tuple of str
        Its windows with their times; empty means always.
    locked, spare : bool
        Whether it is locked, and kept in reserve.
    priority : int
        As asked for.
    """

    zone: str
    profile: str
    tolerates: ProfileRecord | None
    windows: tuple[str, ...]
    locked: bool
    spare: bool
    priority: int

    def told_from(self, before: LinkRules) -> Iterator[str]:
        """Tell in words what is not as it was."""
        for name in ("zone", "profile", "priority"):
            old, new = getattr(before, name), getattr(self, name)
            if old != new:
                yield f"{name} {old} -> {new}"
        if before.profile == self.profile and before.tolerates and self.tolerates:
            yield from _profile_changes(before.tolerates, self.tolerates)
        if before.windows != self.windows:
            was, now = (", ".join(rules.windows) or "always" for rules in (before, self))
            yield f"on the air {was} -> {now}"
        if before.locked != self.locked:
            yield "locked" if self.locked else "no longer locked"
        if before.spare != self.spare:
            yield "a spare now" if self.spare else "no longer a spare"


def link_rules(
    document: PlanDocument,
) -> Callable[[AssignmentRecord | RefusedRecord], LinkRules]:
    """Return a function that finds the rules of a link of this plan.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    callable
        From a row of the plan to its rules.
    """
    profiles = {profile.name: profile for profile in document.profiles}
    times = {
        w.name: f"{w.name} ({w.start:%Y-%m-%d %H:%M} to {w.end:%Y-%m-%d %H:%M})"
        for w in document.windows
    }

    def rules(row: AssignmentRecord | RefusedRecord) -> LinkRules:
        return LinkRules(
            zone=row.zone,
            profile=row.profile,
            tolerates=profiles.get(row.profile),
            windows=tuple(times.get(name, name) for name in sorted(set(row.windows))),
            locked=row.locked,
            spare=row.spare,
            priority=row.priority,
        )

    return rules


def _profile_changes(old: ProfileRecord, new: ProfileRecord) -> Iterator[str]:
    for key, noun in (
        ("separation_hz", "separation"),
        ("bandwidth_hz", "bandwidth"),
        ("raster_hz", "raster"),
        ("raster_origin_hz", "raster origin"),
    ):
        was, now = getattr(old, key), getattr(new, key)
        if was != now:
            yield f"{noun} {mhz_text(was)} -> {mhz_text(now)} MHz"
    for form in dict.fromkeys([*old.guards_hz, *new.guards_hz]):
        was, now = old.guards_hz.get(form, 0), new.guards_hz.get(form, 0)
        if was != now:
            yield f"guard on {form} {mhz_text(was)} -> {mhz_text(now)} MHz"
    if old.mixes != new.mixes:
        yield "mixes now" if new.mixes else "no longer mixes"


def rule_changes(old: PlanDocument, new: PlanDocument) -> Iterator[str]:
    """Tell in words which rules of the plan as a whole are others.

    Parameters
    ----------
    old, new : PlanDocument
        Two plans.

    Yields
    ------
    str
        One sentence each, without a full stop.
    """
    profiles = {p.name: p for p in old.profiles}, {p.name: p for p in new.profiles}
    yield from _named("profile", *profiles, _profile_words)
    yield from _availability(old, new)
    for zone in _missing(old.zones, new.zones):
        yield f"zone {zone!r} is gone"
    for zone in _missing(new.zones, old.zones):
        yield f"zone {zone!r} is new"
    degrees = [{frozenset(c.zones): c.degree for c in plan.couplings} for plan in (old, new)]
    for pair in degrees[0]:
        was, now = degrees[0][pair], degrees[1].get(pair)
        if now is not None and was != now:
            yield f"coupling of {' and '.join(sorted(pair))}: {was} -> {now}"
    windows = {w.name: w for w in old.windows}, {w.name: w for w in new.windows}
    yield from _named("window", *windows, lambda _was, _now: "has other times")
    foreign = {c.name: c for c in old.incumbents}, {c.name: c for c in new.incumbents}
    yield from _named("foreign carrier", *foreign, _foreign_words, shown=_standing)


def _missing(names: list[str], other: list[str]) -> list[str]:
    return [name for name in names if name not in other]


def _named(
    noun: str,
    old: Mapping[str, object],
    new: Mapping[str, object],
    words: Callable[..., str],
    shown: Callable[..., str] = lambda _record: "",
) -> Iterator[str]:
    for name, was in old.items():
        if name not in new:
            yield f"{noun} {name!r}{shown(was)} is gone"
        elif new[name] != was:
            yield f"{noun} {name!r}: {words(was, new[name])}"
    for name, now in new.items():
        if name not in old:
            yield f"{noun} {name!r}{shown(now)} is new"


def _profile_words(was: ProfileRecord, now: ProfileRecord) -> str:
    return ", ".join(_profile_changes(was, now)) or "described otherwise"


def _standing(record: IncumbentRecord) -> str:
    return f" on {mhz_text(record.frequency_hz)} MHz in {record.zone}"


def _foreign_words(was: IncumbentRecord, now: IncumbentRecord) -> str:
    if was.frequency_hz != now.frequency_hz:
        return f"{mhz_text(was.frequency_hz)} -> {mhz_text(now.frequency_hz)} MHz"
    return "zone, profile or windows are others"


def _availability(old: PlanDocument, new: PlanDocument) -> Iterator[str]:
    for name, spans in old.availability.items():
        if name not in new.availability:
            continue
        for low, high in _less(spans, new.availability[name]):
            yield f"{name!r} may no longer stand in {mhz_text(low)}-{mhz_text(high)} MHz"
        for low, high in _less(new.availability[name], spans):
            yield f"{name!r} may now stand in {mhz_text(low)}-{mhz_text(high)} MHz"


def _less(spans: list[Span], others: list[Span]) -> list[Span]:
    left = list(spans)
    for other in others:
        left = [piece for span in left for piece in without(span, *other)]
    return [(low, high) for low, high in left if low < high or (low, high) in spans]


def without(span: Span, low_hz: int, high_hz: int) -> list[Span]:
    """Take a range out of another; edges stay with what is left.

    Parameters
    ----------
    span : (int, int)
        The range.
    low_hz, high_hz : int
        What is taken away.

    Returns
    -------
    list of (int, int)
        What is left of the range: none, one or two pieces.
    """
    low, high = span
    if high_hz < low or low_hz > high or (high_hz == low < high) or (low_hz == high > low):
        return [span]
    return [(low, low_hz)] * (low < low_hz) + [(high_hz, high)] * (high_hz < high)
