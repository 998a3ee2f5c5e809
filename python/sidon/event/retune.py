"""The search behind a repair: links on one state, settled, pushed aside, and sent back home."""

from __future__ import annotations

import random
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidon.event.cover import cheapest_cover
from sidon.result import REFUSED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    import sidon
    from sidon.event.assess import Scene

__all__ = ["Desire", "Retuner", "Standing"]

_TRIED = 32
"""Candidates tried for a link that has no clear one, those that push away the fewest first."""
_DEPTH = 3
"""How far pushing away goes on: a link pushes others, which push others."""
_NODES = 50
"""Nodes of the search for the cheapest links to push from one candidate."""
_ROOM_STEPS = 4
"""Room to the next blocked candidate beyond this many is of no more use."""


@dataclass(frozen=True)
class Desire:
    """What a repair minimises, in this order: links lost, by weight; then moves, by weight.

    Parameters
    ----------
    lost : mapping of int to int
        What leaving each link without a carrier costs.
    moved : mapping of int to int
        What moving each link costs.
    """

    lost: Mapping[int, int]
    moved: Mapping[int, int]

    def score(self, scene: Scene, column: NDArray[np.int64]) -> tuple[int, int]:
        """Score a column of frequencies, the best least."""
        lost = moved = 0
        for i in range(scene.links):
            if column[i] == REFUSED:
                lost += self.lost[i]
            elif scene.before_hz[i] != REFUSED and column[i] != scene.before_hz[i]:
                moved += self.moved[i]
        return lost, moved


@dataclass(frozen=True)
class Standing:
    """Where everybody stands after a stage of the search.

    Parameters
    ----------
    hertz : numpy.ndarray
        By link; -1 for one without a carrier.
    score : (int, int)
        Its weight of links lost, and of moves.
    """

    hertz: NDArray[np.int64]
    score: tuple[int, int]


class Retuner:
    """Moves links on one state of the engine.

    Parameters
    ----------
    scene : Scene
        The links.
    desire : Desire
        What to minimise.
    deadline : float
        When to end, on the clock of `time.monotonic`.
    """

    def __init__(self, scene: Scene, desire: Desire, deadline: float) -> None:
        import sidon

        self._scene = scene
        self._desire = desire
        self.deadline = deadline
        self.state: sidon.State = sidon.State(scene.plain)
        self._random = random.Random(0)
        self._jitter = False

    @property
    def late(self) -> bool:
        """Whether time is up."""
        return time.monotonic() >= self.deadline

    def set_out(self, free: Iterable[int]) -> None:
        """Put everybody but these where they stand, then take off who still breaks a rule."""
        column = self._scene.present.copy()
        column[list(free)] = REFUSED
        self.state.move_to(column)
        while self.state.hard and self._scene.violations(self.state.frequencies()):
            # Conflicts beyond those listed: rare, and any choice is sound. The table alone may see
            # some where a foreign carrier stands between two steps of the raster.
            worst = max(
                (i for i in range(self._scene.links) if not self._scene.fixed[i]),
                key=lambda i: (len(self.state.conflicts(i)), -self._desire.moved[i]),
            )
            self.state.lift(worst)

    def standing(self) -> Standing:
        """Note where everybody stands."""
        column = self.state.frequencies()[: self._scene.links].copy()
        return Standing(column, self._desire.score(self._scene, column))

    def sound_standing(self) -> Standing:
        """Take off who still breaks a rule by the independent check, and note who stands.

        Beside a foreign carrier between two steps of the raster the table does not count exactly.
        """
        scene = self._scene
        while True:
            violations = scene.violations(self.state.frequencies())
            if not violations:
                return self.standing()
            movable = [[i for i in v.links if not scene.fixed[i]] for v in violations]
            cover = cheapest_cover(map(frozenset, movable), self._desire.lost, most_nodes=_NODES)
            for i in cover.links:
                self.state.lift(i)

    def off(self) -> list[int]:
        """Links without a carrier, those that count most first."""
        column = self.state.frequencies()[: self._scene.links]
        lost = np.flatnonzero(column == REFUSED).tolist()
        return sorted(lost, key=lambda i: (-self._desire.lost[i], i))

    def go_back(self) -> None:
        """Put every link back where it stood, where that has become clear."""
        again = True
        while again:
            again = False
            hertz = self.state.frequencies()
            for i in np.flatnonzero(hertz[: self._scene.links] != self._scene.before_hz).tolist():
                home = self._scene.present[i]
                if home == REFUSED or hertz[i] == REFUSED:
                    continue
                at = int(np.searchsorted(self._scene.candidates(i), home))
                stood = self.state.lift(i)
                if self.state.cost(i)[at] == 0:
                    self.state.place(i, at)
                    again = True
                else:
                    self.state.place(i, stood)

    def settle(self, links: Iterable[int]) -> None:
        """Put links on clear candidates, those with the fewest first."""
        left = list(links)
        while left and not self.late:
            counts = {i: int(np.count_nonzero(self.state.cost(i) == 0)) for i in left}
            rank = self._random.random if self._jitter else float
            link = min(left, key=lambda i: (counts[i] == 0, -self._big(i), counts[i], rank(), i))
            left.remove(link)
            if counts[link]:
                self.state.place(link, self._clear(link))

    def place(self, link: int) -> bool:
        """Put a link on a clear candidate; False, and it stays off, when there is none."""
        clear = bool((self.state.cost(link) == 0).any())
        if clear:
            self.state.place(link, self._clear(link))
        return clear

    def _big(self, link: int) -> int:
        """Rank required links above spares."""
        return int(not self._scene.records[link].spare)

    def _clear(self, link: int) -> int:
        """Choose among the clear candidates: home, else with some room around, else the nearest."""
        clear = np.flatnonzero(self.state.cost(link) == 0)
        places = self._scene.candidates(link)
        home = int(self._scene.present[link])
        if home != REFUSED:
            at = int(np.searchsorted(places, home))
            if at in clear:
                return at
        blocked = np.flatnonzero(self.state.cost(link) != 0)
        after = np.searchsorted(blocked, clear)
        edges = np.concatenate(([-_ROOM_STEPS - 1], blocked, [len(places) + _ROOM_STEPS]))
        room = np.minimum(clear - edges[after], edges[after + 1] - clear).clip(max=_ROOM_STEPS)
        if self._jitter:
            best = clear[room >= min(2, int(room.max()))]
            return int(best[self._random.randrange(len(best))])
        stood = int(self._scene.before_hz[link])
        goal = stood if stood != REFUSED else int(places[0])
        order = np.lexsort((np.abs(places[clear] - goal), -room))
        return int(clear[order[0]])

    def push(self, links: Iterable[int]) -> None:
        """Let links without a clear candidate push others away, where those find another place."""
        for link in links:
            if self.late:
                return
            if self.state.choice(link) is None:
                self._push(link, frozenset({link}), _DEPTH)

    def _push(self, link: int, busy: frozenset[int], depth: int) -> int | None:
        """Place a link at the least weight of moves; None, and all as before, if there is no way.

        `busy` links are not pushed.
        """
        row = self.state.cost(link)
        hard = row // self.state.HARD
        clear = np.flatnonzero(hard == 0)
        if len(clear):
            self.state.place(link, self._clear(link))
            return self._move_cost(link)
        order = np.argsort(hard, kind="stable")[: _TRIED if depth == _DEPTH else _TRIED // 4]
        options = []
        for at in order.tolist():
            pushed = self._in_the_way(link, at, busy)
            if pushed is not None:
                weight = sum(self._desire.moved[i] for i in pushed)
                options.append((weight, at, pushed))
        options.sort(key=lambda option: (option[0], len(option[2]), option[1]))
        before = self.state.frequencies()
        best: tuple[int, NDArray[np.int64]] | None = None
        for weight, at, pushed in options:
            if self.late or (best is not None and weight >= best[0]):
                break
            spent = self._try(link, at, pushed, busy, depth)
            if spent is not None and (best is None or spent < best[0]):
                best = spent, self.state.frequencies()
            self.state.move_to(before)
        if best is None:
            return None
        self.state.move_to(best[1])
        return best[0]

    def _try(
        self, link: int, at: int, pushed: frozenset[int], busy: frozenset[int], depth: int
    ) -> int | None:
        for i in pushed:
            self.state.lift(i)
        self.state.place(link, at)
        spent = self._move_cost(link)
        for i in sorted(pushed, key=lambda i: (-self._desire.moved[i], i)):
            clear = bool((self.state.cost(i) == 0).any())
            if not clear and depth <= 1:
                return None
            cost = self._push(i, busy | pushed, depth - 1)
            if cost is None:
                return None
            spent += cost
        return spent

    def _move_cost(self, link: int) -> int:
        before = int(self._scene.before_hz[link])
        at = self.state.choice(link)
        if before == REFUSED or at is None or int(self._scene.candidates(link)[at]) == before:
            return 0
        return self._desire.moved[link]

    def _in_the_way(self, link: int, at: int, busy: frozenset[int]) -> frozenset[int] | None:
        """Find the cheapest links to push away from a candidate; None if some cannot move."""
        self.state.place(link, at)
        rules = self.state.conflicts(link)
        self.state.lift(link)
        conflicts = []
        for others in rules:
            movable = frozenset(i for i in others if not self._scene.fixed[i] and i not in busy)
            if not movable:
                return None
            conflicts.append(movable)
        return cheapest_cover(conflicts, self._desire.moved, most_nodes=_NODES).links

    def shuffle(self, seed: int) -> None:
        """From now on break ties by chance."""
        self._random = random.Random(seed)
        self._jitter = True
