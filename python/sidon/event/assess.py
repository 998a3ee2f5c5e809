"""What a change breaks while nobody has moved: who cannot stay, and who is in whose way."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon._arrays import NO_VALUES
from sidon.event.cover import Cover, cheapest_cover
from sidon.event.desk import candidates_hz
from sidon.event.draft import Draft
from sidon.exceptions import CheckError, Fault, InvalidProblemError
from sidon.plan.recount import problem_fields
from sidon.result import REFUSED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    import sidon
    from sidon.result import Violation

__all__ = ["Broken", "Scene", "assess"]

_MOST_ROUNDS = 100


class Scene:
    """The links of a draft and the foreign carriers, as the engine knows them.

    Parameters
    ----------
    draft : Draft
        A plan under new circumstances.

    Attributes
    ----------
    draft : Draft
        The same.
    rows : list of int
        Which rows of the plan take part, by index: those with a candidate left. A link goes by its
        position in this list; the foreign carriers follow.
    lost : list of int
        The other rows: nothing is left of what they can tune.
    names : list of str
        Of links and foreign carriers.
    present : numpy.ndarray
        Where each stands, hertz; -1 for newcomers and those that must not stay.
    barred : list of int
        Links that must not stay where they stand, by position.
    """

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        after = draft.after
        self._profiles = {profile.name: profile for profile in after.profiles}
        self._free = {name: candidates_hz(after, p) for name, p in self._profiles.items()}
        own = [self._own(i) for i in range(len(after.assignments))]
        self.rows = [i for i, places in enumerate(own) if len(places)]
        self.lost = [i for i, places in enumerate(own) if not len(places)]
        self._places = [own[i] for i in self.rows]
        self.records = [after.assignments[i] for i in self.rows]
        self.names = [row.link for row in self.records] + [row.name for row in after.incumbents]
        self.fixed = [row.locked for row in self.records] + [True] * len(after.incumbents)
        self.before_hz = np.array([draft.hertz[i] for i in self.rows], dtype=np.int64)
        foreign = [row.frequency_hz for row in after.incumbents]
        self.present = np.array([*self.before_hz, *foreign], dtype=np.int64)
        self.barred = [
            i
            for i, (places, hz) in enumerate(zip(self._places, self.before_hz, strict=True))
            if hz != REFUSED and not _holds(places, int(hz))
        ]
        self.present[self.barred] = REFUSED

    def _own(self, row: int) -> NDArray[np.int64]:
        record = self.draft.after.assignments[row]
        places = self._free.get(record.profile, NO_VALUES)
        for low, high in self.draft.avoided.get(record.link, []):
            places = places[(places <= low) | (places >= high)]
        return places

    @property
    def links(self) -> int:
        """How many links there are, foreign carriers not counted."""
        return len(self.records)

    def candidates(self, link: int) -> NDArray[np.int64]:
        """Where a link may stand, hertz, ascending."""
        return self._places[link]

    def problem(
        self,
        *,
        held: Mapping[int, int] | None = None,
        move_costs: Mapping[int, int] | None = None,
    ) -> sidon.Problem:
        """Pose the problem.

        Parameters
        ----------
        held : mapping of int to int, optional
            Frequencies that links must keep, by position; foreign carriers are then locked too.
        move_costs : mapping of int to int, optional
            What it costs to put a link anywhere but where it stands.

        Returns
        -------
        sidon.Problem
            Links in the order of `rows`, then the foreign carriers.
        """
        import sidon

        after = self.draft.after
        fields = problem_fields(after.model_copy(update={"assignments": self.records}))
        spare_total = sum(row.priority for row in self.records if row.spare)
        costs: list[list[int]] = []
        for i, link in enumerate(fields["links"][: self.links]):
            record = self.records[i]
            link["priority"] = record.priority * (1 if record.spare else spare_total + 1)
            if record.link in self.draft.avoided:
                link["domain"] = len(fields["domains"])
                fields["domains"].append({"frequencies": self._places[i].tolist()})
            if held and i in held:
                link["locked_hz"] = held[i]
            elif move_costs and i in move_costs:
                link["costs"] = len(costs)
                away = self._places[i] != self.present[i]
                costs.append((away * move_costs[i]).tolist())
        for i, link in enumerate(fields["links"][self.links :], start=self.links):
            if held is not None:
                link["locked_hz"] = int(self.present[i])
        fields["costs"] = costs
        return sidon.Problem.from_dict(fields)

    @cached_property
    def plain(self) -> sidon.Problem:
        """The problem with nothing held; foreign carriers have one candidate each."""
        return self.problem()

    def violations(self, column: NDArray[np.int64]) -> tuple[Violation, ...]:
        """List the rules a column of frequencies breaks, by the independent check."""
        import sidon

        try:
            sidon.check(self.plain, column)
        except CheckError as error:
            return tuple(violation for violation in error.violations if violation.hard)
        return ()


def _holds(places: NDArray[np.int64], hz: int) -> bool:
    at = int(np.searchsorted(places, hz))
    return at < len(places) and int(places[at]) == hz


@dataclass(frozen=True)
class Broken:
    """What stands in the way of everybody staying.

    Parameters
    ----------
    scene : Scene
        The links.
    violations : tuple of Violation
        Rules broken by those that could stay; at most ten thousand in one round.
    conflicts : tuple of frozenset of int
        For each the links of which one must move, by position.
    must : tuple of int
        Links that cannot stay: barred, or alone in a conflict with what never moves.
    """

    scene: Scene
    violations: tuple[Violation, ...]
    conflicts: tuple[frozenset[int], ...]
    must: tuple[int, ...]

    @property
    def newcomers(self) -> tuple[int, ...]:
        """Links that have just arrived."""
        before = self.scene.before_hz
        return tuple(np.flatnonzero(before == REFUSED).tolist())

    def cover(self, weight: Mapping[int, int]) -> Cover:
        """Find the cheapest links to move out of the conflicts, those that must move left out."""
        gone = set(self.must)
        return cheapest_cover([c for c in self.conflicts if not c & gone], weight)


def assess(scene: Scene, *, locks_hold: bool = True) -> Broken:
    """Find who cannot stay and who is in whose way, by the independent check.

    Parameters
    ----------
    scene : Scene
        The links where they stand.
    locks_hold : bool, default True
        Whether a rule broken among links that never move is a fault. Without, the locked ones
        among them count as if they had to move.

    Returns
    -------
    Broken
        Complete: with the links of any cover and `must` off the air, no rule is broken.

    Raises
    ------
    InvalidProblemError
        When links that never move break a rule among themselves: no repair exists.
    """
    column = scene.present.copy()
    seen: list[Violation] = []
    conflicts: dict[frozenset[int], None] = {}
    must = dict.fromkeys(scene.barred)
    faults: dict[Fault, None] = {}
    for _ in range(_MOST_ROUNDS):
        violations = scene.violations(column)
        if not violations:
            break
        seen += violations
        for violation in violations:
            movable = frozenset(i for i in violation.links if not scene.fixed[i])
            if not movable and not locks_hold:
                movable = frozenset(i for i in violation.links if i < scene.links)
            if not movable:
                faults[_stuck(scene, violation)] = None
            elif len(movable) == 1:
                must |= dict.fromkeys(movable)
            conflicts[movable] = None
        if faults:
            raise InvalidProblemError(list(faults))
        # The check lists no more than ten thousand: take those known out, and look again.
        column = _lifted(column, must, conflicts)
    return Broken(scene, tuple(seen), tuple(conflicts), tuple(sorted(must)))


def _lifted(
    column: NDArray[np.int64], must: Iterable[int], conflicts: Iterable[frozenset[int]]
) -> NDArray[np.int64]:
    left = column.copy()
    left[list(must)] = REFUSED
    for conflict in conflicts:
        if all(left[i] != REFUSED for i in conflict):
            left[max(conflict)] = REFUSED
    return left


def _stuck(scene: Scene, violation: Any) -> Fault:  # noqa: ANN401 - a Violation
    locked = [scene.names[i] for i in dict.fromkeys(violation.links) if i < scene.links]
    if not locked:
        remedy = "leave one out: what keeps clear of both needs a profile of separation 0 for them"
        return Fault("foreign carriers", f"they never move: {violation.text}", remedy)
    remedy = "add Unlock({0!r}) to let it move, or Leave({0!r})".format(locked[-1])
    place = "locked links" if len(locked) > 1 else "a locked link"
    never = "they never move" if len(violation.links) > 1 else "it never moves"
    return Fault(place, f"{never}: {violation.text}", remedy)
