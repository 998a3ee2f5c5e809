"""The products nearest to going wrong around one link, by form and by the part the link plays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sidon._arrays import NO_VALUES
from sidon.plan.air import air_groups

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidon.event.desk import Desk
    from sidon.plan.recount import Carrier

__all__ = ["Near", "NearProducts"]

_MOST_TUPLES = 1_000_000
"""Sums of one half of a product beyond which it is left out: forms of five letters and more."""


@dataclass(frozen=True, slots=True)
class Near:
    """A product that takes part of a link's room.

    Attributes
    ----------
    form : str
        Such as ``"2A-B"``.
    role : str
        ``"victim"`` when it falls near the link, ``"source"`` when the link makes it.
    links : tuple of str
        The other links: sources, and the victim last where it is not the link itself.
    offset_hz : int
        Product minus victim.
    excess_hz : int
        How much farther from the victim than its guard; below 0 it is a hit.
    """

    form: str
    role: str
    links: tuple[str, ...]
    offset_hz: int
    excess_hz: int

    def __str__(self) -> str:
        names = ", ".join(self.links)
        part = "from" if self.role == "victim" else "with"
        return f"{self.form} {part} {names}"


class NearProducts:
    """The products around one link that stands anywhere, the other carriers where they are.

    Parameters
    ----------
    desk : Desk
        The plan.
    link : int
        The link.
    others : sequence of int
        The carriers that share its air and time.

    Notes
    -----
    The other participants are split in two halves whose sums are matched, so that ``A+B-C`` costs
    O(n^2 log n) once and O(n log n) for each frequency.
    """

    def __init__(self, desk: Desk, link: int, others: Sequence[int]) -> None:
        self._desk = desk
        at = [link, *others]
        near = [desk.carriers[i] for i in at]
        self._own = near[0]
        groups = air_groups(desk.document, near)
        self._groups = [
            _Group([near[i] for i in group if i], desk) for group in groups if 0 in group
        ]
        self._forms = _forms(desk)

    def nearest(self, hz: int, reach_hz: int, *, off: str | None = None) -> list[Near]:
        """Find for each form the product that comes nearest to a hit.

        Parameters
        ----------
        hz : int
            Where the link stands.
        reach_hz : int
            How far beyond the guards to look.
        off : str, optional
            A carrier that is off.

        Returns
        -------
        list of Near
            At most one for each form, the narrowest first; none that misses by `reach_hz` or more.
        """
        profiles = self._desk.profiles
        mixes = profiles[self._own.profile].mixes
        best: dict[str, Near] = {}
        for form, coefficients in self._forms.items():
            own_guard = profiles[self._own.profile].guards_hz.get(form, 0)
            for group in self._groups:
                found: list[Near | None] = []
                if own_guard:
                    found.append(group.as_victim(form, coefficients, hz, own_guard, reach_hz, off))
                if mixes and group.guards(form).any():
                    found += [
                        group.as_source(form, coefficients, own, hz, reach_hz, off)
                        for own in sorted(set(coefficients))
                    ]
                for near in found:
                    if near and (form not in best or near.excess_hz < best[form].excess_hz):
                        best[form] = near
        return sorted(best.values(), key=lambda near: (near.excess_hz, near.form))


def _forms(desk: Desk) -> dict[str, tuple[int, ...]]:
    names = sorted({form for p in desk.profiles.values() for form, hz in p.guards_hz.items() if hz})
    return {form: _coefficients(form) for form in names}


def _coefficients(form: str) -> tuple[int, ...]:
    """Read the coefficients of a canonical form."""
    values, sign, digits = [], 1, ""
    for character in form:
        if character in "+-":
            sign = 1 if character == "+" else -1
        elif character.isdigit():
            digits += character
        else:
            values.append(sign * int(digits or "1"))
            sign, digits = 1, ""
    return tuple(values)


@dataclass(frozen=True)
class _Sums:
    """All sums of distinct carriers under some coefficients, ascending, with who takes part."""

    hz: NDArray[np.int64]
    members: NDArray[np.intp]


class _Group:
    """Carriers that hear each other's products at one time, a link's own left out."""

    def __init__(self, members: list[Carrier], desk: Desk) -> None:
        self._names = [c.name for c in members]
        self._hz = np.array([c.frequency_hz for c in members], dtype=np.int64)
        records = [desk.profiles[c.profile] for c in members]
        self._mixing = np.array([p.mixes for p in records], dtype=np.bool_)
        self._records = records
        self._sums: dict[tuple[int, ...], _Sums | None] = {}

    def guards(self, form: str) -> NDArray[np.int64]:
        """Guards of the carriers on a form, 0 where it is waived."""
        return np.array([p.guards_hz.get(form, 0) for p in self._records], dtype=np.int64)

    def as_victim(
        self,
        form: str,
        coefficients: Sequence[int],
        hz: int,
        guard_hz: int,
        reach_hz: int,
        off: str | None,
    ) -> Near | None:
        """Find the product of others that falls nearest to the link."""
        offsets, members = self._within(tuple(coefficients), -hz, guard_hz + reach_hz, off)
        good = self._mixing[members].all(axis=1)
        excess = np.abs(offsets) - guard_hz
        return self._narrowest(form, "victim", offsets[good], excess[good], members[good])

    def as_source(
        self,
        form: str,
        coefficients: Sequence[int],
        own: int,
        hz: int,
        reach_hz: int,
        off: str | None,
    ) -> Near | None:
        """Find the product that the link makes nearest to another carrier."""
        rest = list(coefficients)
        rest.remove(own)
        guards = self.guards(form)
        widest = int(guards.max(initial=0)) + reach_hz
        # The victim goes first, with the coefficient -1 of what is subtracted.
        offsets, members = self._within((-1, *rest), own * hz, widest, off)
        victims, sources = members[:, 0], members[:, 1:]
        excess = np.abs(offsets) - guards[victims]
        good = (guards[victims] > 0) & (excess < reach_hz) & self._mixing[sources].all(axis=1)
        told = np.concatenate([sources, victims[:, None]], axis=1)
        return self._narrowest(form, "source", offsets[good], excess[good], told[good])

    def _narrowest(
        self,
        form: str,
        role: str,
        offsets: NDArray[np.int64],
        excess: NDArray[np.int64],
        members: NDArray[np.intp],
    ) -> Near | None:
        if not len(excess):
            return None
        at = int(excess.argmin())
        names = tuple(self._names[i] for i in members[at].tolist())
        return Near(form, role, names, int(offsets[at]), int(excess[at]))

    def _within(
        self, coefficients: tuple[int, ...], fixed_hz: int, width_hz: int, off: str | None
    ) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
        """Find sums with a fixed part that are nearer to 0 than a width, and their members."""
        half = (len(coefficients) + 1) // 2
        first, second = self._all(coefficients[:half]), self._all(coefficients[half:])
        if first is None or second is None or not len(first.hz) or not len(second.hz):
            return NO_VALUES, np.zeros((0, len(coefficients)), dtype=np.intp)
        wanted = -fixed_hz - second.hz
        low = np.searchsorted(first.hz, wanted - width_hz, side="right")
        high = np.searchsorted(first.hz, wanted + width_hz, side="left")
        counts = np.maximum(high - low, 0)
        right = np.repeat(np.arange(len(second.hz)), counts)
        ends = np.cumsum(counts)
        left = np.arange(len(right)) + np.repeat(low - (ends - counts), counts)
        members = np.concatenate([first.members[left], second.members[right]], axis=1)
        ordered = np.sort(members, axis=1)
        good = (ordered[:, 1:] != ordered[:, :-1]).all(axis=1)
        if off in self._names:
            good &= (members != self._names.index(off)).all(axis=1)
        offsets = first.hz[left] + second.hz[right] + fixed_hz
        return offsets[good], members[good]

    def _all(self, coefficients: tuple[int, ...]) -> _Sums | None:
        if coefficients not in self._sums:
            self._sums[coefficients] = self._made(coefficients)
        return self._sums[coefficients]

    def _made(self, coefficients: tuple[int, ...]) -> _Sums | None:
        n = len(self._hz)
        if n ** len(coefficients) > _MOST_TUPLES:
            return None
        k = len(coefficients)
        members = np.indices((n,) * k, dtype=np.intp).reshape(k, n**k).T
        for i, j in combinations(range(k), 2):
            # Two sources of one coefficient may change places; a victim that goes first may not.
            alike = coefficients[i] == coefficients[j] and coefficients[0] != -1
            a, b = members[:, i], members[:, j]
            members = members[a < b] if alike else members[a != b]
        sums = self._hz[members] @ np.array(coefficients, dtype=np.int64)
        order = np.argsort(sums, kind="stable")
        return _Sums(sums[order], members[order])
