"""From a plan and a change to the plan with the fewest retuned links."""

from __future__ import annotations

import datetime as dt
import math
import time
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from sidon._arrays import FaultList
from sidon._options import check_options, whole_number
from sidon.event.assess import Broken, Scene, assess
from sidon.event.diff import plan_diff
from sidon.event.draft import Draft, draft_of
from sidon.event.outcome import Repair, Replan, Stage
from sidon.event.retune import Desire, Retuner, Standing
from sidon.event.written import repaired_document
from sidon.plan.document import AssignmentRecord, PlanDocument
from sidon.result import REFUSED
from sidon.study.faults import nearest

__all__ = ["ON_AIR", "desire_of", "drafted", "find_repair"]

ON_AIR = 10
"""Moving a link on the air weighs so many times as much as moving one that is not."""

_DEFAULT_SECONDS = 5.0
_ROUNDS = 12
"""Rounds of pushing aside with ties broken by chance."""
_ITERATIONS = 20_000
"""Iterations of the engine at each wider stage."""
_CIRCLES = (16, 64)
"""How many links around the engine may move, besides those that must."""
_MOST_WEIGHT = 1_000

OnAir = Iterable[str] | dt.datetime | str | None


def find_repair(
    document: PlanDocument,
    changes: Sequence[object],
    *,
    on_air: OnAir = None,
    weights: Mapping[str, int] | None = None,
    retry_refused: bool = False,
    compare: bool = False,
    seed: int = 0,
    seconds: float | None = None,
) -> Repair:
    """Repair a plan; see `Plan.repair`."""
    seconds = _DEFAULT_SECONDS if seconds is None else seconds
    check_options("max-service", "local-search", seed, None, seconds, None, None)
    began = time.monotonic()
    draft = drafted(document, changes, on_air)
    if retry_refused:
        draft = _with_refused(draft)
    scene = Scene(draft)
    desire = desire_of(scene, on_air, weights)
    broken = assess(scene)
    search = _Search(scene, desire, broken, began=began, seconds=seconds, seed=seed)
    try:
        search.run()
    except KeyboardInterrupt:
        if not search.stages:
            raise
        search.interrupted = True
    best = search.best
    why = "finished" if search.status == "feasible" else "proven"
    after = repaired_document(
        scene,
        best.hertz,
        status=search.status,
        stop_reason="interrupted" if search.interrupted else why,
        seed=seed,
        seconds=seconds,
    )
    replan = None
    if compare and not search.interrupted:
        replan = _full_replan(scene, seed, seconds)
    return Repair(
        document=after,
        diff=plan_diff(document, after),
        stages=tuple(search.stages),
        weight=best.score[1],
        weight_bound=search.weight_bound,
        count_bound=search.count_bound,
        must=tuple(scene.names[i] for i in broken.must),
        on_air=tuple(sorted(_on_air(scene.draft.after, on_air) or ())),
        proven=search.status == "optimal",
        replan=replan,
        elapsed_s=time.monotonic() - began,
    )


def drafted(document: PlanDocument, changes: Sequence[object], on_air: OnAir) -> Draft:
    """Apply changes; faults of theirs and of the moment are raised together."""
    faults = FaultList()
    faults.take(None, _on_air, document, on_air)
    draft = faults.take(None, draft_of, document, changes)
    faults.raise_if_any()
    assert draft is not None
    return draft


def _with_refused(draft: Draft) -> Draft:
    """Ask again for what the plan had refused."""
    again = [row for row in draft.after.refused if row.zone and row.profile]
    known = {profile.name for profile in draft.after.profiles}
    rows = [
        AssignmentRecord(frequency_hz=1, **row.model_dump(exclude={"reason"}) | {"locked": False})
        for row in again
        if row.profile in known and row.zone in draft.after.zones and not row.locked
    ]
    names = {row.link for row in rows}
    after = draft.after.model_copy(
        update={
            "assignments": [*draft.after.assignments, *rows],
            "refused": [row for row in draft.after.refused if row.link not in names],
        }
    )
    return Draft(draft.before, after, (*draft.hertz, *[REFUSED] * len(rows)), draft.avoided)


def _on_air(document: PlanDocument, on_air: OnAir) -> set[str] | None:
    """Names of the links on the air; None when that is not told."""
    if on_air is None:
        return None
    if isinstance(on_air, str):
        try:
            on_air = dt.datetime.fromisoformat(on_air)
        except ValueError:
            faults = FaultList()
            remedy = "write local time such as '2031-06-14T20:30', or give a list of links"
            faults.add("on_air", f"{on_air!r} is not a date and time", remedy)
            faults.raise_if_any()
    if isinstance(on_air, dt.datetime):
        moment = on_air.replace(tzinfo=None)
        open_ = {w.name for w in document.windows if w.start <= moment < w.end}
        return {
            row.link
            for row in document.assignments
            if not row.spare and (not row.windows or open_ & set(row.windows))
        }
    return {str(name) for name in on_air}


def desire_of(scene: Scene, on_air: OnAir, weights: Mapping[str, int] | None) -> Desire:
    """Say what moves and losses weigh.

    Parameters
    ----------
    scene : Scene
        The links.
    on_air : iterable of str, datetime or str, optional
        Links on the air, or the moment that tells.
    weights : mapping of str to int, optional
        What moving single links weighs instead.

    Returns
    -------
    Desire
        A move weighs the priority, ten times that on the air, 1 for a spare.

    Raises
    ------
    InvalidProblemError
        When a name or a weight is none; every fault is listed.
    """
    faults = FaultList()
    live = faults.take(None, _on_air, scene.draft.after, on_air)
    known = [row.link for row in scene.draft.before.assignments]
    for name in sorted(live or ()):
        if name not in known and name not in scene.names:
            faults.add("on_air", f"no link is named {name!r}", nearest(name, known))
    for name, value in (weights or {}).items():
        n = whole_number(value)
        if name not in known:
            faults.add("weights", f"no link is named {name!r}", nearest(str(name), known))
        if n is None or not 1 <= n <= _MOST_WEIGHT:
            remedy = f"give a whole number, 1 to {_MOST_WEIGHT}"
            faults.add(f"weights[{name!r}]", f"{value!r} is out of range", remedy)
    faults.raise_if_any()
    moved = {}
    lost = {}
    spare_total = sum(row.priority for row in scene.records if row.spare)
    for i, row in enumerate(scene.records):
        factor = ON_AIR if live is None or row.link in live else 1
        usual = 1 if row.spare else row.priority * factor
        moved[i] = (weights or {}).get(row.link, usual)
        lost[i] = row.priority * (1 if row.spare else spare_total + 1)
    return Desire(lost, moved)


class _Search:
    """Stages of a repair, each with more links free to move than the one before."""

    def __init__(
        self,
        scene: Scene,
        desire: Desire,
        broken: Broken,
        *,
        began: float,
        seconds: float,
        seed: int,
    ) -> None:
        self._scene = scene
        self._desire = desire
        self._broken = broken
        self._seed = seed
        self._began = began
        self._seconds = seconds
        self._tuner = Retuner(scene, desire, began + seconds)
        self.stages: list[Stage] = []
        self.interrupted = False
        cover = broken.cover(desire.moved)
        forced = sum(desire.moved[i] for i in broken.must)
        self._bound = forced + cover.bound
        self._more = 0
        alike = dict.fromkeys(range(scene.links), 1)
        standing = [i for i in scene.lost if scene.draft.hertz[i] != REFUSED]
        self._count = len(standing) + len(broken.must) + broken.cover(alike).bound
        self._free = [*broken.must, *sorted(cover.links), *broken.newcomers]
        self.best = Standing(scene.present[: scene.links], (1 << 62, 0))

    @property
    def weight_bound(self) -> int:
        """What moves weigh at least, if as many links have a carrier as in the best so far."""
        return self._bound + (self._more if self.best.score[0] == 0 else 0)

    @property
    def count_bound(self) -> int:
        """How many links cannot stay, likewise."""
        return self._count + bool(self._more and self.best.score[0] == 0)

    @property
    def status(self) -> str:
        """Whether nothing better exists."""
        lost, moved = self.best.score
        return "optimal" if lost == 0 and moved <= self.weight_bound else "feasible"

    def run(self) -> None:
        """Widen until everybody has a carrier at a cost that cannot be less, or time is up."""
        began = time.monotonic()
        # Never cut short: who has a clear frequency must not go without for want of time.
        self._tuner.deadline = math.inf
        self._tuner.set_out(self._free)
        self._tuner.settle(self._tuner.off())
        self._until(1.0)
        self._note("conflicting links", len(self._free), began)
        if self._done():
            return
        self._widen_bound()
        self._until(0.2)
        self._push_aside()
        self._circles()
        self._until(1.0)
        movable = [i for i in range(self._scene.links) if not self._scene.fixed[i]]
        self._solve("all links", movable, start=self.best)

    def _push_aside(self) -> None:
        for round_ in range(_ROUNDS):
            if self._done():
                return
            began = time.monotonic()
            if round_:
                self._tuner.shuffle(self._seed * _ROUNDS + round_)
            self._tuner.set_out(self._free)
            self._tuner.settle(self._tuner.off())
            self._tuner.push(self._tuner.off())
            self._tuner.go_back()
            self._note("pushed aside", self._moved() + len(self._free), began)

    def _circles(self) -> None:
        """Free the lightest links around, more each time, until all are served."""
        self._until(1.0)
        if self._done():
            return
        around = self._around()
        for step, size in enumerate(_CIRCLES):
            self._until(0.3 + 0.1 * step)
            self._solve(f"circle of {min(size, len(around))}", [*self._free, *around[:size]])
            if self.best.score[0] == 0 or size >= len(around):
                return

    def _until(self, share: float) -> None:
        """Give what comes next its share of the time."""
        self._tuner.deadline = self._began + share * self._seconds

    def _done(self) -> bool:
        return self.status == "optimal" or self._tuner.late

    def _note(self, name: str, free: int, began: float) -> None:
        standing = self._tuner.sound_standing()
        better = standing.score < self.best.score
        if better:
            self.best = standing
        known = [stage for stage in self.stages if stage.name == name]
        lost = int((standing.hertz == REFUSED).sum()) + len(self._scene.lost)
        spent = time.monotonic() - began
        if known and not better:
            return
        if known:
            self.stages.remove(known[0])
        self.stages.append(Stage(name, free, lost, self._moved(), standing.score[1], spent))

    def _moved(self) -> int:
        before, now = self._scene.before_hz, self._tuner.standing().hertz
        return int(((before != now) & (before != REFUSED) & (now != REFUSED)).sum())

    def _widen_bound(self) -> None:
        """Count one more move when a link finds no place even with every conflict off the air.

        Then one of those in no conflict must move, or the link be lost.
        """
        if not self._exact():
            return
        scene = self._scene
        involved = set(self._free).union(*self._broken.conflicts)
        involved = {i for i in involved if not scene.fixed[i]}
        self._tuner.set_out(involved)
        others = [
            self._desire.moved[i]
            for i in range(scene.links)
            if not scene.fixed[i] and i not in involved
        ]
        if others and any(not (self._tuner.state.cost(i) == 0).any() for i in self._free):
            self._more = min(others)

    def _exact(self) -> bool:
        """Whether the table counts without rounding: every carrier stands on the common raster."""
        scene = self._scene
        if not scene.links:
            return True
        anchor = scene.candidates(0)[0]
        step = int(
            np.gcd.reduce([np.gcd.reduce(scene.candidates(i) - anchor) for i in range(scene.links)])
        )
        away = scene.present[scene.present != REFUSED] - anchor
        return not (away % max(step, 1)).any()

    def _around(self) -> list[int]:
        """Links that share air and time with those that must move, the lightest first."""
        from sidon.event.desk import Desk

        scene = self._scene
        after = scene.draft.after.model_copy(update={"assignments": scene.records})
        desk = Desk(after)
        centre = {*self._free, *np.flatnonzero(self.best.hertz == REFUSED).tolist()}
        near: dict[int, None] = {}
        for i in sorted(centre):
            near |= dict.fromkeys(desk.neighbours(i))
        outside = [i for i in near if i < scene.links and not scene.fixed[i] and i not in centre]
        return sorted(outside, key=lambda i: (self._desire.moved[i], i))

    def _solve(self, name: str, free: Sequence[int], *, start: Standing | None = None) -> None:
        """Let the engine place these links, the others held at home, and send home who can go."""
        import sidon

        if self._done():
            return
        began = time.monotonic()
        scene = self._scene
        inside = {i for i in free if not scene.fixed[i]}
        held = {
            i: int(scene.present[i])
            for i in range(scene.links)
            if i not in inside and scene.present[i] != REFUSED
        }
        moves = {i: self._desire.moved[i] for i in inside if scene.present[i] != REFUSED}
        first = scene.present[: scene.links] if start is None else start.hertz
        result = sidon.solve(
            scene.problem(held=held, move_costs=moves),
            seed=self._seed,
            iterations=_ITERATIONS,
            progress=lambda _event: self._tuner.late,
            start=[*first.tolist(), *scene.present[scene.links :].tolist()],
        )
        # The callback ends it by time; anything sooner is Ctrl-C, which the engine has answered.
        if result.stop_reason == "interrupted" and not self._tuner.late:
            raise KeyboardInterrupt
        if result.hard:
            return
        self._tuner.state.move_to(result.frequencies)
        self._tuner.go_back()
        self._note(name, len(inside), began)


def _full_replan(scene: Scene, seed: int, seconds: float) -> Replan:
    """Plan the changed event from nothing, and count who moved."""
    import sidon

    began = time.monotonic()
    held = {i: int(scene.present[i]) for i in range(scene.links) if scene.fixed[i]}
    result = sidon.solve(scene.problem(held=held), seed=seed, seconds=seconds)
    now, before = result.frequencies[: scene.links], scene.before_hz
    moved = (now != before) & (before != REFUSED) & (now != REFUSED)
    return Replan(
        retuned=int(moved.sum()),
        refused=int((now == REFUSED).sum()) + len(scene.lost),
        elapsed_s=time.monotonic() - began,
    )
