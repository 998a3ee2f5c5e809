"""The carriers around one link: who shares its air and time, and what it would cost to move it."""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon._arrays import NO_VALUES
from sidon.exceptions import CheckError
from sidon.plan.recount import Carrier, carriers
from sidon.result import REFUSED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    import sidon
    from sidon.plan.document import PlanDocument, ProfileRecord

__all__ = ["Desk", "Room", "candidates_hz", "share_time"]

_MOST_STEPS = 1 << 18
"""A raster finer than this over the carriers at hand is not worth its time: a plain recount is."""


def candidates_hz(document: PlanDocument, profile: ProfileRecord) -> NDArray[np.int64]:
    """List the frequencies on which a profile may stand.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    profile : ProfileRecord
        One of its profiles.

    Returns
    -------
    numpy.ndarray
        int64, hertz, ascending.
    """
    step, origin = profile.raster_hz, profile.raster_origin_hz
    pieces = [
        np.arange(low + (origin - low) % step, high + 1, step, dtype=np.int64)
        for low, high in document.availability.get(profile.name, [])
    ]
    return np.unique(np.concatenate([NO_VALUES, *pieces]))


def share_time(a: Carrier, b: Carrier) -> bool:
    """Tell whether two carriers are ever on the air together; no window means always."""
    if not a.spans or not b.spans:
        return True
    return any(s < end and start < e for s, e in a.spans for start, end in b.spans)


class Desk:
    """A plan laid out so that one link can be looked at among its neighbours.

    Parameters
    ----------
    document : PlanDocument
        A plan without faults.
    """

    def __init__(self, document: PlanDocument) -> None:
        self.document = document
        self.carriers = carriers(document)
        self.index = {carrier.name: i for i, carrier in enumerate(self.carriers)}
        self.profiles = {profile.name: profile for profile in document.profiles}
        self._degrees = {frozenset(c.zones): c.degree for c in document.couplings}

    @classmethod
    def of(cls, document: PlanDocument) -> Desk:
        """Lay out a plan, or return the last one laid out if it is of the same document."""
        global _last
        last = _last
        if last is None or last.document is not document:
            _last = last = cls(document)
        return last

    def neighbours(self, link: int) -> list[int]:
        """List the other carriers that share air and time with one."""
        mine = self.carriers[link]
        reach = {zone for zone in self.document.zones if self.shares_air(zone, mine.zone)}
        return [
            i
            for i, other in enumerate(self.carriers)
            if i != link and other.zone in reach and share_time(mine, other)
        ]

    def mixes(self, a: str, b: str) -> bool:
        """Tell whether products reach from one zone to the other."""
        return a == b or self._degrees[frozenset((a, b))] == "full"

    def shares_air(self, a: str, b: str) -> bool:
        """Tell whether two zones keep at least separations."""
        return a == b or self._degrees[frozenset((a, b))] != "none"

    def problem(
        self,
        link: int,
        others: Sequence[int],
        frequencies_hz: NDArray[np.int64],
        *,
        widen_hz: int = 0,
    ) -> tuple[sidon.Problem, bool]:
        """Ask for one link among carriers that stand still.

        Parameters
        ----------
        link : int
            The link; it comes first.
        others : sequence of int
            The carriers beside it, in this order.
        frequencies_hz : numpy.ndarray
            Where the link may stand.
        widen_hz : int, default 0
            Widens every separation and guard that is not 0.

        Returns
        -------
        problem : sidon.Problem
            The link, then the others.
        fits : bool
            Whether a cost table can hold all carriers on one raster, and so count exactly.
        """
        import sidon

        own = self.carriers[link]
        zones = {name: i for i, name in enumerate(self.document.zones)}
        profiles = {name: i for i, name in enumerate(self.profiles)}
        alike: dict[tuple[object, ...], list[int]] = {}
        for i in others:
            c = self.carriers[i]
            alike.setdefault((c.profile, c.zone, c.windows), []).append(c.frequency_hz)
        anchor = int(frequencies_hz[0])
        still = [self.carriers[i].frequency_hz for i in others]
        own_step = int(np.gcd.reduce(frequencies_hz - anchor))
        step = gcd(own_step, *(hz - anchor for hz in still))
        ends = [*still, int(frequencies_hz[-1]), anchor]
        fits = (max(ends) - min(ends)) <= _MOST_STEPS * max(step, 1)

        def listed_hz(hertz: list[int]) -> dict[str, Any]:
            # A list of one frequency counts as still, and the raster need not fit it: so two.
            return {"frequencies": hertz if len(hertz) > 1 else [*hertz, hertz[0] + max(step, 1)]}

        domains = [listed_hz(frequencies_hz.tolist())]
        domain_of: dict[object, int] = {}
        for key, listed in alike.items():
            domain_of[key] = len(domains)
            domains.append(listed_hz(sorted(set(listed))))

        def entry(carrier: Carrier, domain: int) -> dict[str, Any]:
            return {
                "id": carrier.name,
                "profile": profiles[carrier.profile],
                "zone": zones[carrier.zone],
                "windows": [{"start": a, "end": b} for a, b in carrier.spans],
                "domain": domain,
            }

        links = [entry(own, 0)]
        for i in others:
            c = self.carriers[i]
            links.append(entry(c, domain_of[c.profile, c.zone, c.windows]))
        problem = sidon.Problem.from_dict(
            {
                "profiles": [_rules(profile, widen_hz) for profile in self.profiles.values()],
                "zones": list(zones),
                "couplings": [
                    {"a": zones[c.zones[0]], "b": zones[c.zones[1]], "degree": c.degree}
                    for c in self.document.couplings
                ],
                "domains": domains,
                "links": links,
            }
        )
        return problem, fits


_last: Desk | None = None


def _rules(profile: ProfileRecord, widen_hz: int) -> dict[str, Any]:
    def wide(hz: int) -> int:
        return hz + widen_hz if hz else 0

    return {
        "name": profile.name,
        "separation_hz": wide(profile.separation_hz),
        "guards": [
            {"form": form, "guard_hz": wide(hz)} for form, hz in profile.guards_hz.items() if hz
        ],
        "mixes": profile.mixes,
    }


class Room:
    """What one link could be moved to, while every other carrier stands still.

    Parameters
    ----------
    desk : Desk
        The plan.
    link : int
        The link; it is taken off the air.

    Attributes
    ----------
    desk, link
        The same.
    others : list of int
        The carriers that share air and time with it.
    mixing : list of int
        Those of them whose products reach it, or are reached by its own.
    candidates : numpy.ndarray
        Where its profile may stand, hertz, ascending.
    """

    def __init__(self, desk: Desk, link: int) -> None:
        self.desk = desk
        self.link = link
        self.others = desk.neighbours(link)
        own = desk.carriers[link]
        self.mixing = [i for i in self.others if desk.mixes(own.zone, desk.carriers[i].zone)]
        mixing = set(self.mixing)
        self._apart = [i for i in self.others if i not in mixing]
        profile = desk.profiles[desk.carriers[link].profile]
        self.candidates = candidates_hz(desk.document, profile)

    def clear(self, frequencies_hz: NDArray[np.int64], *, widen_hz: int = 0) -> NDArray[np.bool_]:
        """Tell on which frequencies the link would break no rule, were all this much wider.

        Parameters
        ----------
        frequencies_hz : numpy.ndarray
            Hertz, ascending.
        widen_hz : int, default 0
            How much.

        Returns
        -------
        numpy.ndarray
            One truth value per frequency; exact.
        """
        clear = self._far(frequencies_hz, widen_hz)
        left = frequencies_hz[clear]
        if not len(left):
            return clear
        state = self._state(left, widen_hz)
        if state is not None:
            clear[clear] = state.cost(0)[: len(left)] == 0
        else:
            clear[clear] = self.stands(left.tolist(), widen_hz=widen_hz)
        return clear

    def _far(self, frequencies_hz: NDArray[np.int64], widen_hz: int) -> NDArray[np.bool_]:
        """Tell which frequencies keep their distance from those that need no more than that."""
        own = self.desk.profiles[self.desk.carriers[self.link].profile]
        far = np.ones(len(frequencies_hz), dtype=np.bool_)
        for i in self._apart:
            other = self.desk.carriers[i]
            least = max(own.separation_hz, self.desk.profiles[other.profile].separation_hz)
            if least:
                reach = least + widen_hz
                low, high = np.searchsorted(
                    frequencies_hz, (other.frequency_hz - reach + 1, other.frequency_hz + reach)
                )
                far[low:high] = False
        return far

    def _state(self, frequencies_hz: NDArray[np.int64], widen_hz: int) -> sidon.State | None:
        """Put those that mix on the air; None where no table holds so fine a raster."""
        import sidon

        problem, fits = self.desk.problem(self.link, self.mixing, frequencies_hz, widen_hz=widen_hz)
        if not fits:
            return None
        try:
            state = sidon.State(problem)
        except sidon.TooLargeError:
            return None
        still = [self.desk.carriers[i].frequency_hz for i in self.mixing]
        state.move_to(np.array([-1, *still], dtype=np.int64))
        return state

    def clear_without(self, spares: Sequence[int]) -> list[bool]:
        """Tell whether the link could stand where each of these stands, that one being off.

        Parameters
        ----------
        spares : sequence of int
            Carriers of its zone.

        Returns
        -------
        list of bool
            One for each; exact.
        """
        hertz = [self.desk.carriers[spare].frequency_hz for spare in spares]
        places = np.unique(np.array(hertz, dtype=np.int64))
        places = places[np.isin(places, self.candidates)]
        if not len(places):
            return [False] * len(spares)
        # A spare of the link's own zone mixes with it, or is never on together with it.
        far = self._far(places, 0)
        state = self._state(places, 0)
        seat = {i: position + 1 for position, i in enumerate(self.mixing)}
        found = []
        for spare, hz in zip(spares, hertz, strict=True):
            at = int(np.searchsorted(places, hz))
            if at == len(places) or places[at] != hz or not far[at]:
                found.append(False)
            elif state is None:
                found += self.stands([hz], off=spare)
            else:
                stood = state.lift(seat[spare]) if spare in seat else None
                found.append(bool(state.cost(0)[at] == 0))
                if stood is not None:
                    state.place(seat[spare], stood)
        return found

    def stands(
        self, frequencies_hz: Sequence[int], *, off: int | None = None, widen_hz: int = 0
    ) -> list[bool]:
        """Tell by the independent check on which frequencies the link breaks no rule.

        Parameters
        ----------
        frequencies_hz : sequence of int
            Some of its candidates.
        off : int, optional
            A carrier that is off.
        widen_hz : int, default 0
            Widens every rule.

        Returns
        -------
        list of bool
            One for each. Rules that others break among themselves do not count.

        Notes
        -----
        Carriers that do not mix with the link have no part in a product with it: their distances
        are compared, the rest is left to the check.
        """
        if not frequencies_hz:
            return []
        places = np.unique(np.array(frequencies_hz, dtype=np.int64))
        far = dict(zip(places.tolist(), self._far(places, widen_hz).tolist(), strict=True))
        others = [i for i in self.mixing if i != off]
        problem, _ = self.desk.problem(self.link, others, places, widen_hz=widen_hz)
        # What the others break among themselves is counted once, with the link off.
        column = np.array([REFUSED, *(self.desk.carriers[i].frequency_hz for i in others)])
        among_others = _hard(problem, column)
        found = []
        for hz in frequencies_hz:
            column[0] = hz
            found.append(far[hz] and _hard(problem, column) == among_others)
        return found


def _hard(problem: sidon.Problem, column: NDArray[np.int64]) -> int:
    """Count broken rules by the independent check."""
    import sidon

    try:
        sidon.check(problem, column)
    except CheckError as error:
        return error.report.hard
    return 0
