"""Running a search, and checking an assignment independently of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from sidon import _engine
from sidon._arrays import NO_VALUES, FaultList
from sidon._assignment import assignment_column
from sidon._columns import Columns, frozen
from sidon._options import check_options, raise_if, thread_faults, whole_number
from sidon._registry import heuristic_of
from sidon.exceptions import CheckError, Fault, InvalidProblemError
from sidon.heuristics import run_heuristic
from sidon.result import Refusal, Report, Result, Violation

if TYPE_CHECKING:
    from sidon._assignment import Assignment
    from sidon._options import Objective
    from sidon.heuristics import AnyMethod
    from sidon.problem import Problem

__all__ = ["Event", "check", "refusals", "solve", "why_refused"]

Event = _engine.Event

Progress: TypeAlias = Callable[[_engine.Event], object]

DEFAULT_SECONDS = 5.0
"""The time budget when none is given."""


def require_problem(problem: object) -> None:
    """Raise `InvalidProblemError` for anything that is no `Problem`."""
    from sidon.problem import Problem

    if not isinstance(problem, Problem):
        what = f"a {type(problem).__name__} is no sidon.Problem"
        remedy = "give a Problem; a Study plans itself: study.plan()"
        raise InvalidProblemError([Fault("problem", what, remedy)])


def solve(
    problem: Problem,
    *,
    objective: Objective = "max-service",
    method: AnyMethod = "local-search",
    seed: int = 0,
    iterations: int | None = None,
    seconds: float | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    start: Assignment | None = None,
) -> Result:
    """Search for an assignment of frequencies to links.

    Ctrl-C asks for the best so far, which is returned with ``stop_reason="interrupted"``; a second
    Ctrl-C, should the first not have ended the run yet, raises `KeyboardInterrupt`. The search ends
    within a tenth of a second; the check of its plan, which is not cut short, takes seconds where
    a thousand links share the air. Python hands signals to the main thread only: called from
    another one, a run ends by its budget or by its callback. Other Python threads go on while the
    engine works.

    Parameters
    ----------
    problem : Problem
        What is asked.
    objective : {"max-service", "min-interference", "min-span", "min-order"}, optional
        Serve the greatest weight of links with no hard rule broken; or serve every link with the
        fewest broken; or serve every link, break none, and use the least span from the lowest to
        the highest frequency, or the fewest distinct frequencies. Then the least soft cost.
    method : str or callable, optional
        How, by its name in the literature: ``"first-fit"``, ``"dsatur"`` (Brelaz 1979),
        ``"rlf"`` (Leighton 1979), ``"local-search"``, ``"tabucol"`` (Hertz and de Werra 1987),
        ``"partialcol"`` (Bloechliger and Zufferey 2008), ``"simulated-annealing"``, ``"lns"``
        (Shaw 1998), ``"branch-and-bound"`` (exact, for small problems), or ``"portfolio"``,
        which picks by itself; by a name that a package registers (see `sidon.methods`); or a
        heuristic of your own, called with a `sidon.State` and a `sidon.Run`. A heuristic runs in
        the calling thread, under the same budget, trace and check; what it raises reaches the
        caller unchanged, but for `KeyboardInterrupt`, which counts as Ctrl-C.
    seed : int, optional
        Seed of every random stream, 0 to 2**64 - 1.
    iterations : int, optional
        Budget in iterations over all restarts. The answer depends on `problem`, `objective`,
        `method`, `seed` and `iterations` only, whatever the number of threads.
    seconds : float, optional
        Budget in wall-clock seconds, which gives up repeatability. With neither budget the run
        takes at most five seconds.
    threads : int, optional
        Worker threads; one per core without, or as the environment variable
        ``RAYON_NUM_THREADS`` says.
    progress : callable, optional
        Called with an `Event` in the calling thread: for every improvement on the best so far, and
        otherwise at most fifty times a second. Returning True asks for the best so far; an
        exception ends the run and reaches the caller unchanged, but for `KeyboardInterrupt`,
        which counts as Ctrl-C.
    start : Result, mapping or array, optional
        A plan to begin with, as for `check`; the answer is never worse. It may leave links out and
        break rules: where hard rules must hold, links are first taken off until they do. A locked
        link stands on its lock. Seven of eight restarts begin with it, and so does the state of a
        heuristic of your own.

    Returns
    -------
    Result
        The best assignment found, recounted by the independent check.

    Raises
    ------
    InvalidProblemError
        An argument is out of range; every one is listed.
    TooLargeError
        The problem is beyond what the engine can hold.
    MethodError
        The package that registers the method is broken.

    See Also
    --------
    check : The independent check.
    methods : The names there are.
    State : What a heuristic of your own reads and moves.

    Examples
    --------
    >>> import sidon
    >>> problem = sidon.Problem.simple(
    ...     range(7), count=4, separation=1, guards={"2A-B": 1, "A+B-C": 1}
    ... )
    >>> result = sidon.solve(problem, seed=1, iterations=10_000)
    >>> result.refused, result.status
    (0, 'optimal')

    A heuristic of your own: every link in turn goes where it is cheapest.

    >>> def cheapest(state, run):
    ...     for link in state.free:
    ...         if not run.tick():
    ...             return
    ...         state.place(link, int(state.cost(link).argmin()))
    >>> result = sidon.solve(problem, method=cheapest, objective="min-interference")
    >>> result.hard, result.stop_reason
    (1, 'finished')

    A callback that stops at the first plan good enough; `Event.objective` is None while no plan
    counts, as under min-span before every link has a place:

    >>> result = sidon.solve(problem, progress=lambda event: event.refused <= 1)
    >>> result.refused <= 1
    True
    >>> def narrow(event):
    ...     return event.objective is not None and event.objective <= 6
    >>> result = sidon.solve(problem, objective="min-span", progress=narrow)
    >>> result.objective <= 6
    True

    Repair with the fewest retuned links: a cost on every frequency of a link but its present one,
    and the present plan to begin with. Here the third link is new, and both others must move.

    >>> problem = sidon.Problem.from_arrays(
    ...     domains=[range(5)],
    ...     link_domain=[0, 0, 0],
    ...     separation=2,
    ...     costs=[[1, 0, 1, 1, 1], [1, 1, 1, 0, 1], [0, 0, 0, 0, 0]],
    ... )
    >>> sidon.solve(problem, start=[1, 3, None], seed=1, iterations=2_000).soft
    2
    """
    require_problem(problem)
    check_options(objective, method, seed, iterations, seconds, threads, progress)
    begin = None if start is None else assignment_column(problem, start, "start")
    if iterations is None and seconds is None:
        seconds = DEFAULT_SECONDS
    heuristic = heuristic_of(method)
    if heuristic is None:
        outcome = _engine.solve(
            problem._inner,
            objective=objective,
            method=str(method),
            seed=seed,
            iterations=iterations,
            seconds=seconds,
            threads=threads,
            progress=progress,
            start=begin,
        )
    else:
        outcome = run_heuristic(
            heuristic,
            problem,
            objective=objective,
            seed=int(seed),
            iterations=iterations,
            seconds=seconds,
            progress=progress,
            start=begin,
        )
    return Result(
        frequencies=frozen(outcome.frequencies),
        link_ids=problem.link_ids,
        status=outcome.status,
        stop_reason=outcome.stop_reason,
        refused=outcome.refused,
        unserved=outcome.unserved,
        bound=outcome.bound,
        objective=outcome.objective,
        lower_bound=outcome.lower_bound,
        hard=outcome.hard,
        soft=outcome.soft,
        seed=outcome.seed,
        restarts=outcome.restarts,
        iterations=outcome.iterations,
        evaluations=outcome.evaluations,
        elapsed_s=outcome.elapsed_s,
        trace=_trace(outcome.trace),
    )


def check(
    problem: Problem,
    frequencies: Assignment,
    *,
    threads: int | None = None,
) -> Report:
    """Recount everything an assignment breaks, independently of any search.

    Parameters
    ----------
    problem : Problem
        What is asked.
    frequencies : Result, mapping or array
        A result; hertz by link name (a link left out, or None, has no carrier); or hertz in the
        order of the links, -1 where there is no carrier.
    threads : int, optional
        Worker threads; one per core without.

    Returns
    -------
    Report
        The counts, and soft violations if there are any. Links without a carrier are counted, and
        break no rule.

    Raises
    ------
    CheckError
        A hard rule is broken; `CheckError.report` has the counts and every violation.
    InvalidProblemError
        The frequencies do not go with the problem.
    TooLargeError
        The check would take too long.

    See Also
    --------
    solve : Find an assignment.

    Examples
    --------
    >>> import sidon
    >>> problem = sidon.Problem.simple([0, 1, 2, 3], count=3, guards={"2A-B": 1})
    >>> sidon.check(problem, [0, 1, 3]).hard
    0
    >>> try:
    ...     sidon.check(problem, [0, 1, 2])
    ... except sidon.CheckError as error:
    ...     print(len(error.violations))
    2
    """
    require_problem(problem)
    raise_if(thread_faults(threads))
    column = assignment_column(problem, frequencies)
    counts, rows = _engine.check(problem._inner, column, threads=threads)
    hard, soft, refused, unserved, truncated = counts
    report = Report(
        hard=hard,
        soft=soft,
        refused=refused,
        unserved=unserved,
        truncated=truncated,
        violations=tuple(
            Violation(kind, is_hard, cost, tuple(links), text)
            for kind, is_hard, cost, links, text in rows
        ),
    )
    if report.hard:
        raise CheckError(report)
    return report


def why_refused(problem: Problem, frequencies: Assignment, link: int | str) -> Refusal:
    """Count what blocks a link, as if it were off the air itself.

    Parameters
    ----------
    problem : Problem
        What is asked.
    frequencies : Result, mapping or array
        Where the other links stand, as for `check`.
    link : int or str
        The link, by index or name.

    Returns
    -------
    Refusal
        Its candidates, each counted by the first rule that blocks it.

    Raises
    ------
    InvalidProblemError
        The frequencies do not go with the problem, or there is no such link.

    Examples
    --------
    >>> import sidon
    >>> problem = sidon.Problem.simple([1, 2, 3], count=3, guards={"2A-B": 1})
    >>> sidon.why_refused(problem, [1, 2, -1], 2).as_victim
    1
    """
    ids = problem.link_ids
    faults = FaultList()
    column = faults.take(NO_VALUES, assignment_column, problem, frequencies)
    index = ids.index(link) if link in ids else whole_number(link)
    if index is None or not 0 <= index < len(ids):
        faults.add("link", f"there is no link {link!r}", "see Problem.link_ids")
    faults.raise_if_any()
    return refusals(problem, column, [index or 0])[0]


def refusals(problem: Problem, frequencies: Assignment, links: Sequence[int]) -> list[Refusal]:
    """Count what blocks each of some links, as if that one were off the air itself.

    Parameters
    ----------
    problem : Problem
        What is asked.
    frequencies : Result, mapping or array
        Where the links stand, as for `check`.
    links : sequence of int
        Their indices.

    Returns
    -------
    list of Refusal
        One for each, as `why_refused` counts it; the plan is laid out once for all.
    """
    column = assignment_column(problem, frequencies)
    return [
        Refusal(
            candidates=candidates,
            by_separation=by_separation,
            as_victim=as_victim,
            as_source=as_source,
            clean=clean,
        )
        for candidates, by_separation, as_victim, as_source, clean in _engine.refusals(
            problem._inner, column, list(links)
        )
    ]


def _trace(trace: _engine.TraceColumns) -> Columns:
    return Columns(
        time_s=frozen(trace.time_s),
        iteration=frozen(trace.iteration),
        restart=frozen(trace.restart),
        kind=frozen(np.array(trace.kind, dtype=np.str_)),
        refused=frozen(trace.refused),
        unserved=frozen(trace.unserved),
        hard=frozen(trace.hard),
        soft=frozen(trace.soft),
        bound=frozen(trace.bound),
        objective=frozen(trace.objective),
        evaluations=frozen(trace.evaluations),
    )
