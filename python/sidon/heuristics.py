"""Heuristics written in Python: the state they move, and the run that watches them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol, TypeAlias, cast

import numpy as np

from sidon import _engine
from sidon._assignment import assignment_column
from sidon.result import Snapshot

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidon._assignment import Assignment
    from sidon._options import Method, Objective
    from sidon.problem import Problem

__all__ = ["AnyMethod", "Heuristic", "Run", "State", "run_heuristic"]


class State(_engine.State):
    """A plan in the making: which links stand where, and what every further step would cost.

    `sidon.solve` hands one to a heuristic, with the locked links on their locks where the
    objective allows it. Made by hand it is empty. Links and candidates go by index. A state may be
    shared between threads; every call is whole.

    Parameters
    ----------
    problem : Problem
        What is asked.

    Raises
    ------
    TooLargeError
        The problem is beyond what the engine can hold.

    See Also
    --------
    solve : Runs a heuristic on a state.

    Notes
    -----
    ``cost`` writes the row where numpy reads it and hands out a view, at O(candidates) after a move
    that touches the link and O(1) otherwise. ``place`` and ``lift`` cost a few vector additions of
    the raster's length, however many links are on the air.

    Examples
    --------
    Two carriers stand on 0 and 2. On 4 a third would be hit by ``2A-B``, and the guard of one on
    the first would be broken too; on 6 it is clean.

    >>> import sidon
    >>> problem = sidon.Problem.simple([0, 2, 4, 6], count=3, separation=2, guards={"2A-B": 1})
    >>> state = sidon.State(problem)
    >>> state.place(0, 0)
    >>> state.place(1, 1)
    >>> (state.cost(2) // state.HARD).tolist()
    [1, 1, 2, 0]
    >>> state.place(2, 3)
    >>> state
    State(3 of 3 links placed, 0 hard, soft cost 0)
    >>> kept = state.snapshot()
    >>> state.lift(0)
    0
    >>> state.restore(kept)
    >>> sidon.check(problem, state.snapshot()).hard
    0
    """

    __slots__ = ("_free", "_problem")

    _free: tuple[int, ...]
    _problem: Problem

    def __new__(cls, problem: Problem, session: _engine.Session | None = None) -> State:  # noqa: D102
        state = cast("State", super().__new__(cls, problem._inner, session))
        state._problem = problem
        state._free = tuple(state.unlocked())
        return state

    @property
    def problem(self) -> Problem:
        """What is asked."""
        return self._problem

    @property
    def free(self) -> tuple[int, ...]:
        """The links that no lock holds, by index: those a heuristic may put anywhere."""
        return self._free

    def snapshot(self) -> Snapshot:
        """Note where every link stands.

        Returns
        -------
        Snapshot
            Immutable; `sidon.check` takes it, and `restore` goes back to it.
        """
        hard, soft = divmod(self.total, self.HARD)
        return Snapshot(
            frequencies=self.frequencies(),
            link_ids=self._problem.link_ids,
            hard=hard,
            soft=soft,
            unserved=self.unserved,
        )

    def restore(self, plan: Assignment) -> None:
        """Move every link to where a plan has it. Only links that stand elsewhere are moved.

        Parameters
        ----------
        plan : Snapshot, Result, mapping or array
            As for `sidon.check`.

        Raises
        ------
        InvalidProblemError
            The plan names a link there is not, or holds values that are no frequencies.
        MoveError
            A frequency is no candidate of its link, or not that of its lock. Nothing was moved.
        """
        self.move_to(assignment_column(self._problem, plan))


class Run(_engine.Session):
    """One run of a heuristic, made by `sidon.solve`: its budget, its best plan, its random numbers.

    Attributes
    ----------
    random : numpy.random.Generator
        PCG64 seeded with the seed of the run. With no other source of randomness, and `tick` asked
        once a step, equal seed and iterations give equal plans.
    seed : int
        The seed given.
    objective : str
        The objective given.
    """

    __slots__ = ("_problem", "objective", "random", "seed")

    random: np.random.Generator
    seed: int
    objective: str
    _problem: Problem

    def __new__(  # noqa: D102
        cls,
        problem: Problem,
        *,
        objective: Objective,
        seed: int,
        iterations: int | None,
        seconds: float | None,
        progress: Callable[[_engine.Event], object] | None,
        start: NDArray[np.int64] | None = None,
    ) -> Run:
        made = super().__new__(
            cls,
            problem._inner,
            objective=objective,
            seed=seed,
            iterations=iterations,
            seconds=seconds,
            progress=progress,
            start=start,
        )
        run = cast("Run", made)
        run._problem = problem
        run.random = np.random.Generator(np.random.PCG64(seed))
        run.seed = seed
        run.objective = objective
        return run

    @property
    def best(self) -> Snapshot | None:
        """The best plan offered so far; None once the run has ended."""
        incumbent = self.incumbent()
        if incumbent is None:
            return None
        frequencies, hard, soft, unserved = incumbent
        return Snapshot(
            frequencies=frequencies,
            link_ids=self._problem.link_ids,
            hard=hard,
            soft=soft,
            unserved=unserved,
        )


class Heuristic(Protocol):
    """What `sidon.solve` takes as a method of your own: a callable of a `State` and a `Run`.

    It moves links on the state, asks ``run.tick()`` once a step and returns when the answer is no,
    and hands in every plan worth keeping by ``run.offer(state)``. What stands on the state when it
    returns is offered too. Its return value is not read.
    """

    def __call__(self, state: State, run: Run, /) -> object:
        """Search."""


AnyMethod: TypeAlias = "Method | str | Heuristic"


def run_heuristic(
    heuristic: Heuristic,
    problem: Problem,
    *,
    objective: Objective,
    seed: int,
    iterations: int | None,
    seconds: float | None,
    progress: Callable[[_engine.Event], object] | None,
    start: NDArray[np.int64] | None = None,
) -> _engine.Outcome:
    """Run a heuristic to its end and have its best plan recounted; see `sidon.solve`.

    Parameters
    ----------
    heuristic : callable
        The method.
    problem, objective, seed, iterations, seconds, progress, start
        As for `sidon.solve`, checked.

    Returns
    -------
    Outcome
        What the engine answers.
    """
    run = Run(
        problem,
        objective=objective,
        seed=seed,
        iterations=iterations,
        seconds=seconds,
        progress=progress,
        start=start,
    )
    state = State(problem, run)
    interrupted = False
    try:
        heuristic(state, run)
    except KeyboardInterrupt:
        interrupted = True
    return run.finish(state, interrupted=interrupted)
