"""From a plan and a change to the plan with the fewest retuned links."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from sidon._arrays import FaultList
from sidon._faults import nearest
from sidon._options import check_options, whole_number
from sidon.event.assess import Broken, Scene, assess
from sidon.event.calls import calls_of
from sidon.event.changes import Hit
from sidon.event.diff import plan_diff
from sidon.event.draft import Draft, draft_of
from sidon.event.moment import OnAir, links_on_air
from sidon.event.repaired import Repair, Replan, Stage
from sidon.event.retune import Desire, Retuner, Standing
from sidon.event.waiting import Filled, fill, with_refused
from sidon.event.why import reasons, reserve_notes
from sidon.event.written import repaired_document
from sidon.plan.document import PlanDocument
from sidon.result import REFUSED

__all__ = ["ON_AIR", "desire_of", "drafted", "find_repair", "look_at"]

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
        draft = with_refused(draft)
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
    filled = None if retry_refused else search.fill(lambda wide: desire_of(wide, on_air, weights))
    if filled is None:
        lost, weight = search.best.score
        filled = Filled(scene, search.best.hertz, lost, weight)
    bound = search.weight_bound_of(filled.lost)
    proven = not filled.lost and filled.moved <= bound
    after = repaired_document(
        filled.scene,
        filled.hertz,
        status="optimal" if proven else "feasible",
        stop_reason="interrupted" if search.interrupted else "proven" if proven else "finished",
        seed=seed,
        seconds=seconds,
    )
    diff = plan_diff(document, after)
    live = tuple(sorted(links_on_air(scene.draft.after, on_air) or ()))
    why = reasons(broken)
    hit = {change.link for change in changes if isinstance(change, Hit)}
    moved = {row.link for row in diff.retuned}
    for link, note in reserve_notes(after, sorted(hit & moved)).items():
        why[link] = "; ".join(filter(None, (why.get(link), note)))
    replan = None
    if compare and not search.interrupted:
        replan = _full_replan(scene, seed, seconds)
    return Repair(
        document=after,
        diff=diff,
        stages=tuple(search.stages),
        weight=filled.moved,
        weight_bound=bound,
        count_bound=search.count_bound_of(filled.lost),
        must=tuple(scene.names[i] for i in broken.must),
        on_air=live,
        calls=calls_of(document, after, diff, on_air=live, why=why),
        proven=proven,
        replan=replan,
        elapsed_s=time.monotonic() - began,
    )


def drafted(
    document: PlanDocument, changes: Sequence[object], on_air: OnAir, *, locks_hold: bool = True
) -> Draft:
    """Apply changes; faults of theirs and of the moment are raised together."""
    faults = FaultList()
    faults.take(None, links_on_air, document, on_air)
    draft = faults.take(None, draft_of, document, changes, locks_hold=locks_hold)
    faults.raise_if_any()
    assert draft is not None
    return draft


def look_at(
    document: PlanDocument, changes: Sequence[object], on_air: OnAir, *, locks_hold: bool = True
) -> None:
    """Raise every fault of changes and of the moment; nothing is searched."""
    draft = drafted(document, changes, on_air, locks_hold=locks_hold)
    desire_of(Scene(draft), on_air, None)


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
    live = faults.take(None, links_on_air, scene.draft.after, on_air)
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

    def weight_bound_of(self, lost: int) -> int:
        """Bound what moves weigh, if so much is lost: links without a carrier, or their weight.

        Where nothing is, one more must move than the conflicts alone tell.
        """
        return self._bound + (0 if lost else self._more)

    def count_bound_of(self, lost: int) -> int:
        """Bound how many links cannot stay, likewise."""
        return self._count + bool(self._more and not lost)

    @property
    def status(self) -> str:
        """Whether nothing better exists."""
        lost, moved = self.best.score
        return "optimal" if lost == 0 and moved <= self.weight_bound_of(0) else "feasible"

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

    def fill(self, desire_of: Callable[[Scene], Desire]) -> Filled | None:
        """Serve links that were refused before, where nobody is retuned for them."""
        if self.interrupted:
            return None
        deadline = self._began + self._seconds
        try:
            return fill(self._scene, self.best.hertz, desire_of, deadline=deadline)
        except KeyboardInterrupt:
            self.interrupted = True
            return None

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
