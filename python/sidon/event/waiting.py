"""Links that a plan had refused: served after a repair where that costs nobody a retune."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidon.event.assess import Scene
from sidon.event.draft import Draft
from sidon.event.retune import Desire, Retuner, Standing
from sidon.plan.document import AssignmentRecord
from sidon.result import REFUSED

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

__all__ = ["Filled", "fill", "with_refused"]


@dataclass(frozen=True)
class Filled:
    """Where everybody stands once those that waited have been served.

    Parameters
    ----------
    scene : Scene
        All links, those that were refused before among them.
    hertz : numpy.ndarray
        By link of this scene; -1 for one without a carrier.
    lost : int
        How many links that stood or arrived, and can tune anything, are without a carrier.
    moved : int
        What all moves weigh.
    """

    scene: Scene
    hertz: NDArray[np.int64]
    lost: int
    moved: int


def with_refused(draft: Draft) -> Draft:
    """Ask again for what the plan had refused.

    Parameters
    ----------
    draft : Draft
        A plan under new circumstances.

    Returns
    -------
    Draft
        Its refused links are newcomers, behind all others. Those that say too little about
        themselves stay refused, and locked ones: nobody knows their frequency any more.
    """
    known = {profile.name for profile in draft.after.profiles}
    rows = [
        AssignmentRecord(frequency_hz=1, **row.model_dump(exclude={"reason"}))
        for row in draft.after.refused
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


def fill(
    scene: Scene,
    hertz: NDArray[np.int64],
    desire_of: Callable[[Scene], Desire],
    *,
    deadline: float,
) -> Filled | None:
    """Serve links that waited where a frequency is clear, before newcomers that count less.

    Parameters
    ----------
    scene : Scene
        The links without those that were refused before.
    hertz : numpy.ndarray
        Where each stands after the repair.
    desire_of : callable
        What moves and losses weigh among the links of a scene.
    deadline : float
        When to stop retuning others for newcomers, on the clock of `time.monotonic`.

    Returns
    -------
    Filled or None
        Nobody is retuned for a link that waited. None when no link waited.
    """
    draft = with_refused(scene.draft)
    if len(draft.hertz) == len(scene.draft.hertz):
        return None
    wide = Scene(draft)
    stood = {row.link for row in scene.draft.after.assignments}
    waiting = {i for i in range(wide.links) if wide.names[i] not in stood}
    newcomers = [i for i in np.flatnonzero(wide.before_hz == REFUSED).tolist() if i not in waiting]
    desire = desire_of(wide)
    filler = _Filler(wide, desire, waiting, deadline)
    column = wide.present.copy()
    column[: wide.links] = REFUSED
    at = {name: int(hz) for name, hz in zip(scene.names, hertz[: scene.links], strict=False)}
    for i in range(wide.links):
        column[i] = at.get(wide.names[i], REFUSED)
    best = Standing(column[: wide.links], desire.score(wide, column))
    heaviest = max((desire.lost[i] for i in waiting), default=0)
    lighter = [i for i in newcomers if desire.lost[i] <= heaviest]
    keep = [i for i in range(wide.links) if column[i] != REFUSED and i not in newcomers]
    for lifted in [lighter, []] if lighter else [[]]:
        standing = filler.filled(column, lifted)
        # Of equal ones the first: who has waited goes before who arrives.
        better = standing.score[0] < best.score[0]
        better |= standing.score == best.score and bool(lifted)
        if better and (standing.hertz[keep] != REFUSED).all():
            best = standing
    lost = [i for i in range(wide.links) if i not in waiting and best.hertz[i] == REFUSED]
    return Filled(wide, best.hertz, len(lost), best.score[1])


class _Filler:
    """Places links that wait on one state of the engine."""

    def __init__(self, scene: Scene, desire: Desire, waiting: set[int], deadline: float) -> None:
        self._scene = scene
        self._desire = desire
        self._waiting = waiting
        self._deadline = deadline
        self._tuner = Retuner(scene, desire, math.inf)

    def filled(self, column: NDArray[np.int64], lifted: list[int]) -> Standing:
        """Take these newcomers off, then serve whoever is off by weight, who waited first."""
        tuner = self._tuner
        without = column.copy()
        without[lifted] = REFUSED
        tuner.deadline = math.inf
        tuner.state.move_to(without)
        full: set[tuple[object, ...]] = set()
        for i in sorted(tuner.off(), key=self._turn):
            row = self._scene.records[i]
            # One carrier more clears nothing: links alike find no place either.
            alike = row.profile, row.zone, tuple(row.windows), row.link in self._scene.draft.avoided
            if alike not in full and not tuner.place(i):
                full.add(alike)
        tuner.deadline = self._deadline
        tuner.push(i for i in lifted if tuner.state.choice(i) is None)
        tuner.go_back()
        return tuner.sound_standing()

    def _turn(self, link: int) -> tuple[int, bool, int]:
        return -self._desire.lost[link], link not in self._waiting, link
