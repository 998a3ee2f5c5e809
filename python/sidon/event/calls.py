"""The call list of a repair: who does what, where and when, on which equipment, and why."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidon._cells import harmless
from sidon.event.diff import rows_of
from sidon.result import REFUSED
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.event.diff import LinkChange, PlanDiff
    from sidon.plan.document import PlanDocument

__all__ = ["Call", "call_lines", "calls_csv", "calls_of"]

_COLUMNS = (
    "window",
    "zone",
    "party",
    "link",
    "spare",
    "action",
    "from_mhz",
    "to_mhz",
    "equipment",
    "on_air",
    "after",
    "why",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """What one link has to do.

    Attributes
    ----------
    link, zone, party : str
        Its names; an empty party for none.
    windows : tuple of str
        When it is on the air; empty for always.
    spare : bool
        Whether it is kept in reserve.
    action : str
        ``"retune"``, ``"start"``, ``"stop"``, ``"off the air"`` for one that loses its carrier,
        ``"no carrier"`` for one that arrives and gets none, or ``"change equipment"`` where the
        frequency stays.
    old_hz, new_hz : int
        Hertz; -1 where it has no carrier.
    equipment : str
        Its new profile where that changes, else empty.
    on_air : bool
        Whether it counted as on the air.
    after : tuple of str
        Links that must have left first: they stand too near to where it goes, in air and time.
    why : str
        In words.
    """

    link: str
    zone: str
    party: str
    windows: tuple[str, ...]
    spare: bool
    action: str
    old_hz: int
    new_hz: int
    equipment: str
    on_air: bool
    after: tuple[str, ...]
    why: str

    def __str__(self) -> str:
        spare = " (spare)" if self.spare else ""
        text = f"{self.link}{spare}: {self.action}"
        if self.action == "change equipment":
            text += f" to {self.equipment}, stay on {mhz_text(self.new_hz)} MHz"
        elif self.new_hz != REFUSED:
            text += f" {'to' if self.action == 'retune' else 'on'} {mhz_text(self.new_hz)} MHz"
        if self.action == "retune":
            text += f", now on {mhz_text(self.old_hz)}"
        if self.equipment and self.action != "change equipment":
            text += f", change equipment to {self.equipment}"
        if self.on_air:
            text += ", ON THE AIR"
        text += "".join(f", after {name} has left" for name in self.after)
        told = "; ".join(part for part in (self.party, self.why) if part)
        return f"{text} [{told}]" if told else text


_ACTIONS = {"retuned": "retune", "added": "start", "served": "start", "removed": "stop"}
_USUAL = {
    "retuned": "makes room for others",
    "added": "arrives",
    "served": "was refused before, a frequency is clear now",
    "removed": "leaves",
}


def calls_of(
    before: PlanDocument,
    after: PlanDocument,
    diff: PlanDiff,
    *,
    on_air: Collection[str],
    why: Mapping[str, str],
) -> tuple[Call, ...]:
    """List what links have to do, by window in order of time, then by zone.

    Parameters
    ----------
    before, after : PlanDocument
        The plan, and the repaired one.
    diff : PlanDiff
        From one to the other.
    on_air : collection of str
        Links on the air.
    why : mapping of str to str
        Reasons of single links; usual ones for the others.

    Returns
    -------
    tuple of Call
        Links that are on in no window of their own come first. O(links squared) among those named.
    """
    order = _Order(before, after)
    calls = []
    for row in diff.links:
        was, now = order.was.get(row.link), order.now.get(row.link)
        known = now or was
        if known is None:  # a link of the diff stands in one of the two
            continue
        swapped = was is not None and now is not None and was.profile != now.profile
        if row.change == "rules" and not swapped:
            continue
        action = _ACTIONS.get(row.change, "off the air")
        usual = _USUAL.get(row.change, "no clear frequency")
        if row.change == "refused" and row.old_hz == REFUSED:
            action = "no carrier"
        if row.change == "rules":
            action, usual = "change equipment", ""
        elif swapped and row.change == "retuned":
            usual = "other equipment"
        calls.append(
            Call(
                link=row.link,
                zone=row.zone,
                party=known.party or "",
                windows=tuple(known.windows),
                spare=row.spare,
                action=action,
                old_hz=row.old_hz,
                new_hz=row.new_hz,
                equipment=row.profile if swapped else "",
                on_air=row.link in on_air and row.old_hz != REFUSED,
                after=tuple(order.first(row, diff.links)),
                why=why.get(row.link, usual),
            )
        )
    return tuple(sorted(calls, key=order.key))


class _Order:
    """What comes before what: windows by time, zones as listed, leavers before who takes over."""

    def __init__(self, before: PlanDocument, after: PlanDocument) -> None:
        self.was = rows_of(before)
        self.now = rows_of(after)
        self._zones = {name: i for i, name in enumerate(after.zones)}
        self._windows = {w.name: w for w in after.windows}
        profiles = [*before.profiles, *after.profiles]
        self._widths = {profile.name: profile.separation_hz for profile in profiles}
        self._apart = {frozenset(c.zones) for c in after.couplings if c.degree == "none"}

    def key(self, call: Call) -> tuple[dt.datetime, tuple[str, ...], int, bool]:
        """Sort key of a call; equal ones stay in the order of the plan."""
        start = min((self._windows[w].start for w in call.windows), default=dt.datetime.min)
        return start, call.windows, self._zones.get(call.zone, 0), call.spare

    def first(self, row: LinkChange, others: Iterable[LinkChange]) -> list[str]:
        """Name the links that leave a spot too near to where this one goes, in air and time."""
        now = self.now.get(row.link)
        if now is None or row.new_hz == REFUSED or row.new_hz == row.old_hz:
            return []
        found = []
        for other in others:
            was = self.was.get(other.link)
            if was is None or other.link == row.link or other.old_hz in (REFUSED, other.new_hz):
                continue
            width = max(self._widths.get(row.profile, 0), self._widths.get(was.profile, 0), 1)
            near = abs(other.old_hz - row.new_hz) < width
            coupled = frozenset((row.zone, was.zone)) not in self._apart
            if near and coupled and self._together(now.windows, was.windows):
                found.append(other.link)
        return found

    def _together(self, a: Iterable[str], b: Iterable[str]) -> bool:
        mine = [self._windows[name] for name in a]
        theirs = [self._windows[name] for name in b]
        if not mine or not theirs:
            return True
        return any(x.start < y.end and y.start < x.end for x in mine for y in theirs)


def call_lines(calls: Iterable[Call]) -> list[str]:
    """Write calls down, short enough to be read over a radio.

    Parameters
    ----------
    calls : iterable of Call
        In order.

    Returns
    -------
    list of str
        A line for each that has something to do, under its window and zone.
    """
    lines: list[str] = []
    last = None
    for call in calls:
        if call.action == "no carrier":
            continue
        head = ", ".join([" + ".join(call.windows)] * bool(call.windows) + [call.zone])
        if head != last:
            lines.append(f"{head}:")
            last = head
        lines.append(f"  {call}")
    return lines


def calls_csv(calls: Iterable[Call]) -> str:
    """Write calls as CSV, frequencies in MHz.

    Parameters
    ----------
    calls : iterable of Call
        In order.

    Returns
    -------
    str
        A header and a line per link.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for call in calls:
        old, new = ("" if hz == REFUSED else mhz_text(hz) for hz in (call.old_hz, call.new_hz))
        cells = (
            "; ".join(call.windows),
            call.zone,
            call.party,
            call.link,
            "yes" if call.spare else "no",
            call.action,
            old,
            new,
            call.equipment,
            "yes" if call.on_air else "no",
            "; ".join(call.after),
            call.why,
        )
        writer.writerow([harmless(cell) for cell in cells])
    return text.getvalue()
