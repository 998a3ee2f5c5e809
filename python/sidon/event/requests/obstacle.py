"""What stands in the way of a link at the frequency it wanted, from the plan document alone."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace
from itertools import chain

import numpy as np

from sidon.event.desk import Desk, Room
from sidon.plan.air import air_groups
from sidon.plan.document import PlanDocument, ProfileRecord
from sidon.plan.recount import Carrier, carriers
from sidon.units import mhz_text

__all__ = ["Obstacles"]

Hit = tuple[str, tuple[Carrier, ...], Carrier, int]


class Obstacles:
    """Finds obstacles in one plan.

    Parameters
    ----------
    document : PlanDocument
        A plan without faults.
    """

    def __init__(self, document: PlanDocument) -> None:
        self._document = document
        self._desk = Desk.of(document)
        self._carriers = carriers(document)
        self._index = {carrier.name: i for i, carrier in enumerate(self._carriers)}
        self._profiles = {profile.name: profile for profile in document.profiles}
        self._degrees = {frozenset(c.zones): c.degree for c in document.couplings}
        self._everyone = frozenset(self._index)
        granted = {row.link for row in document.assignments if row.wanted_hz == row.frequency_hz}
        self._settled = granted | {c.name for c in self._carriers if c.locked}
        self._groups = list(air_groups(document, self._carriers))
        mixing = (p for p in document.profiles if p.mixes)
        self._mixing = {profile.name for profile in mixing}
        guards = chain.from_iterable(profile.guards_hz for profile in document.profiles)
        self._forms = sorted(set(guards))

    def at(self, link: str, hz: int) -> str:
        """Say what stands in the way of an assigned link at another frequency.

        Parameters
        ----------
        link : str
            A link with a carrier.
        hz : int
            Where it would rather stand.

        Returns
        -------
        str
            The first obstacle in the order: not available, separation, products; and how many
            more of its kind there are. Carriers that are locked, foreign, or where they want to
            be come first, since they would not make way.

        Notes
        -----
        O(n^2 log n) in the carriers that share the air with it.
        """
        index = self._index[link]
        moved = replace(self._carriers[index], frequency_hz=hz)
        profile = self._profiles[moved.profile]
        return (
            self._unavailable(profile, hz)
            # What cannot move is the better reason.
            or self._too_near(index, moved, self._settled)
            or self._hit(index, moved, self._settled)
            or self._too_near(index, moved, self._everyone)
            or self._hit(index, moved, self._everyone)
            or "nothing stands in its way in this plan; the search ended before it tried"
        )

    def nearer(self, link: str, hz: int) -> str:
        """Say why an assigned link stands no nearer to a frequency.

        Parameters
        ----------
        link : str
            A link with a carrier.
        hz : int
            Where it would rather stand.

        Returns
        -------
        str
            That it is locked, that nothing nearer is clear while the others stand where they do,
            or what is.
        """
        index = self._index[link]
        if self._carriers[index].locked:
            return "it is locked where it stands"
        room = Room(self._desk, index)
        away = np.abs(room.candidates - hz)
        nearer = room.candidates[away < abs(self._carriers[index].frequency_hz - hz)]
        clear = nearer[room.clear(nearer)] if nearer.size else nearer
        if not clear.size:
            return "no nearer frequency is clear for it beside the others"
        best = int(clear[np.argmin(np.abs(clear - hz))])
        return f"{mhz_text(best)} MHz is nearer and clear, but less preferred or not tried"

    def _unavailable(self, profile: ProfileRecord, hz: int) -> str:
        ranges = self._document.availability.get(profile.name, [])
        on_raster = (hz - profile.raster_origin_hz) % profile.raster_hz == 0
        if on_raster and any(low <= hz <= high for low, high in ranges):
            return ""
        spectrum, half = self._document.spectrum, -(-profile.bandwidth_hz // 2)
        low, high = hz - half, hz + half
        if spectrum is not None:
            guard = spectrum.edge_guard_hz
            for channel in spectrum.occupied:
                if channel.low_hz - guard < high and low < channel.high_hz + guard:
                    return f"not available: it reaches into occupied channel {channel.channel}"
            for row in spectrum.exclusions:
                if row.low_hz < high and low < row.high_hz:
                    return f"not available: it reaches into the exclusion {row.reason!r}"
        if not on_raster:
            return f"not available: it is off the raster of {profile.name!r}"
        return f"not available: it is outside what {profile.name!r} may use here"

    def _too_near(self, index: int, moved: Carrier, among: Set[str]) -> str:
        near = []
        for other in self._carriers[:index] + self._carriers[index + 1 :]:
            if other.name not in among:
                continue
            apart = abs(other.frequency_hz - moved.frequency_hz)
            least = max(
                self._profiles[name].separation_hz for name in (moved.profile, other.profile)
            )
            if apart < least and self._share_air(moved, other):
                near.append((apart, other.name, least))
        if not near:
            return ""
        apart, name, least = min(near)
        more = f", and {len(near) - 1} more stand too near" if len(near) > 1 else ""
        if apart == 0:
            return f"separation: {name!r} stands there{more}"
        what = f"separation: {name!r} is {mhz_text(apart)} MHz from it"
        return f"{what}, less than {mhz_text(least)} MHz{more}"

    def _share_air(self, a: Carrier, b: Carrier) -> bool:
        zones = frozenset({a.zone, b.zone})
        if len(zones) == 2 and self._degrees.get(zones, "full") == "none":
            return False
        if not a.spans or not b.spans:
            return True
        return any(s < v and u < e for s, e in a.spans for u, v in b.spans)

    def _hit(self, index: int, moved: Carrier, among: Set[str]) -> str:
        found: dict[tuple[str, ...], Hit] = {}
        for group in self._groups:
            if index in group:
                members = [i for i in group if i == index or self._carriers[i].name in among]
                for hit in self._hits(members, index, moved):
                    form, sources, victim, _ = hit
                    found[form, *(s.name for s in sources), victim.name] = hit
        if not found:
            return ""

        def order(hit: Hit) -> tuple[bool, int, str]:
            return hit[2].name != moved.name, abs(hit[3]), hit[0]

        form, sources, victim, offset = min(found.values(), key=order)
        names = [repr(s.name) if s.name != moved.name else "itself" for s in sources]
        made = f"product {form} of {', '.join(names[:-1])} and {names[-1]}"
        more = f", and {len(found) - 1} more hits" if len(found) > 1 else ""
        guard = mhz_text(self._profiles[victim.profile].guards_hz[form])
        whom = "it" if victim.name == moved.name else repr(victim.name)
        away = f"{mhz_text(abs(offset))} MHz from {whom}"
        return f"{made} falls {away}, inside the guard of {guard} MHz{more}"

    def _hits(self, group: list[int], index: int, moved: Carrier) -> list[Hit]:
        import sidon

        members = [moved if i == index else self._carriers[i] for i in group]
        widths = {
            form: [self._profiles[m.profile].guards_hz.get(form, 0) for m in members]
            for form in self._forms
        }
        rows = sidon.hits([m.frequency_hz for m in members], guards=widths).rows()
        hits = []
        for form, letters, victim, _, offset in rows:
            sources = tuple(members[letter] for letter in letters)
            takes_part = moved in sources or members[victim] is moved
            if takes_part and all(s.profile in self._mixing for s in sources):
                hits.append((form, sources, members[victim], int(offset)))
        return hits
