"""Running the cases of a sweep through an executor, and handing over each result as it comes."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Generator, Iterable
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    wait,
)
from contextlib import closing
from dataclasses import dataclass
from threading import Event
from typing import TYPE_CHECKING, Protocol, TypeAlias

from sidon.sweep.case import Case

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["Outcome", "Task", "plan_case", "sweep", "unfinished"]

Task: TypeAlias = Callable[[Case], object]


class Cluster(Protocol):
    """Something that hands out an executor, such as ``distributed.Client``."""

    def get_executor(self) -> Executor:
        """Return the executor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a case.

    Parameters
    ----------
    case : Case
        The case.
    value : object
        What the task returned, a `Plan` unless another task was given; None when it failed.
    error : str, optional
        What went wrong, in words.
    lost : bool
        Whether the worker was lost before it answered, so that the case may be run again as it is.
    elapsed_s : float
        Wall-clock seconds of the task, on its worker; 0 when it failed.
    """

    case: Case
    value: object = None
    error: str | None = None
    lost: bool = False
    elapsed_s: float = 0.0

    @property
    def plan(self) -> Plan | None:
        """The plan, when the task made one."""
        from sidon.plan import Plan

        return self.value if isinstance(self.value, Plan) else None


def plan_case(case: Case) -> Plan:
    """Plan the study of a case; the task of a sweep unless another is given.

    Parameters
    ----------
    case : Case
        What to plan, and within which limits.

    Returns
    -------
    Plan
        Checked like every plan.
    """
    return case.study.plan(
        seed=case.seed,
        iterations=case.iterations,
        seconds=case.seconds,
        threads=case.threads,
        method=case.method,
        start=case.start,
    )


def sweep(
    cases: Iterable[Case],
    *,
    executor: Executor | Cluster | None = None,
    task: Task = plan_case,
    progress: Callable[[int, int, Outcome], object] | None = None,
    ahead: int | None = None,
) -> Generator[Outcome, None, None]:
    """Run every case and hand over each outcome as soon as it is there.

    Parameters
    ----------
    cases : iterable of Case
        What to run; `cases` makes them.
    executor : concurrent.futures.Executor, optional
        Where to run them: a thread or process pool of the standard library, or a cluster
        (a ``distributed.Client``, or its ``get_executor()``). It stays open. Without one they run
        here, one after the other.
    task : callable, optional
        What to do with a case; anything a process can be sent. `plan_case` without.
    progress : callable, optional
        Called after each outcome with how many are done, how many there are, and the outcome.
        Returning True cancels the cases that have not begun; those at work are still handed over.
    ahead : int, optional
        How many cases the executor holds at one time; all of them without. A pool cannot give
        back what it has taken in, so that a small number ends sooner when it is stopped.

    Yields
    ------
    Outcome
        In the order they finish. A case that fails gives an outcome that says so; the others go
        on. Cases that have not begun are cancelled when the caller stops asking.

    Notes
    -----
    A process pool of the standard library breaks when one of its processes is killed: what had
    finished was handed over, the rest comes as lost, and ``sweep(unfinished(outcomes))`` on a new
    pool goes on from there. A ``distributed`` cluster gives the cases of a lost worker to another
    by itself.

    The engine has threads of its own, so start processes afresh:
    ``ProcessPoolExecutor(mp_context=multiprocessing.get_context("spawn"))``.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor
    >>> from sidon import Study
    >>> from sidon.demo import study_text
    >>> from sidon.sweep import cases, sweep
    >>> todo = cases(Study.from_toml_text(study_text()), seeds=[1, 2], iterations=50_000)
    >>> with ThreadPoolExecutor(2) as pool:
    ...     sorted(outcome.case.seed for outcome in sweep(todo, executor=pool))
    [1, 2]
    """
    todo = list(cases)
    stop = Event()
    if executor is None or isinstance(executor, Executor):
        pool = executor
    else:
        pool = executor.get_executor()
    outcomes = _here(todo, task, stop) if pool is None else _there(todo, task, pool, stop, ahead)
    with closing(outcomes):
        for done, outcome in enumerate(outcomes, start=1):
            if progress is not None and progress(done, len(todo), outcome) is True:
                stop.set()
            yield outcome


def unfinished(outcomes: Iterable[Outcome]) -> list[Case]:
    """List the cases whose worker was lost, to be run again.

    Parameters
    ----------
    outcomes : iterable of Outcome
        What a sweep handed over.

    Returns
    -------
    list of Case
        Their cases, unchanged.
    """
    return [outcome.case for outcome in outcomes if outcome.lost]


def _timed(task: Task, case: Case) -> tuple[object, float]:
    begin = time.perf_counter()
    value = task(case)
    return value, time.perf_counter() - begin


def _here(todo: list[Case], task: Task, stop: Event) -> Generator[Outcome, None, None]:
    for case in todo:
        if stop.is_set():
            return
        try:
            value, elapsed_s = _timed(task, case)
        except Exception as error:
            # Whatever a case raises is its outcome.
            yield Outcome(case=case, error=_words(error))
        else:
            yield Outcome(case=case, value=value, elapsed_s=elapsed_s)


def _there(
    todo: list[Case], task: Task, executor: Executor, stop: Event, ahead: int | None
) -> Generator[Outcome, None, None]:
    waiting: dict[Future[tuple[object, float]], Case] = {}
    ready = deque(todo)
    try:
        while waiting or (ready and not stop.is_set()):
            while ready and (ahead is None or len(waiting) < ahead) and not stop.is_set():
                case = ready.popleft()
                try:
                    waiting[executor.submit(_timed, task, case)] = case
                except BrokenExecutor as error:
                    # What it had finished before it broke is still handed over.
                    yield Outcome(case=case, error=_words(error), lost=True)
            for future in wait(waiting, return_when=FIRST_COMPLETED).done:
                # Popped, so that a long sweep does not hold every plan twice.
                case = waiting.pop(future)
                if not (stop.is_set() and future.cancelled()):
                    yield _outcome(case, future)
            if stop.is_set():
                _cancel(waiting)
    finally:
        _cancel(waiting)


def _cancel(futures: Iterable[Future[tuple[object, float]]]) -> None:
    for future in futures:
        future.cancel()


def _outcome(case: Case, future: Future[tuple[object, float]]) -> Outcome:
    try:
        value, elapsed_s = future.result()
    except (BrokenExecutor, CancelledError) as error:
        return Outcome(case=case, error=_words(error), lost=True)
    except Exception as error:
        # A cluster tells of lost workers by an exception of its own, which need not be installed.
        return Outcome(case=case, error=_words(error), lost=type(error).__name__ == "KilledWorker")
    return Outcome(case=case, value=value, elapsed_s=elapsed_s)


def _words(error: BaseException) -> str:
    text = str(error)
    name = type(error).__name__
    return f"{name}: {text}" if text else name
