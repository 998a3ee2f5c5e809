"""Instances times methods times seeds: every run measured, every answer checked independently."""

from __future__ import annotations

import os
import platform
import subprocess
import time
from collections import deque
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sidon.exceptions import CheckError, MethodError, SidonError
from sidon.solve import check, solve
from sidon.versions import versions

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from concurrent.futures import Future

    from numpy.typing import NDArray

    from sidon.bench.instance import Instance
    from sidon.problem import Problem
    from sidon.result import Report, Result
    from sidon.solve import Event

__all__ = ["Curve", "Row", "run"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One run.

    Attributes
    ----------
    family, instance, method, seed, seconds, threads
        What was run, and its budget in seconds.
    value : int or None
        In the instance's measure, recounted from the answer; None where it does not count.
    measure : str
        What the value is.
    best_known : int or None
        Best value known.
    gap : float or None
        How far the value is from it, in per cent.
    bound : int
        Proved bound of this run in the same measure.
    status : str
        Status of the result.
    time_to_best_s, elapsed_s : float
        Seconds to the value, and in all.
    checked : bool
        Whether the independent check recounted what the search had said.
    machine, commit : str
        Where it ran, and on which commit of the sources, or which version.
    """

    family: str
    instance: str
    method: str
    seed: int
    seconds: float
    threads: int
    value: int | None
    measure: str
    best_known: int | None
    gap: float | None
    bound: int
    status: str
    time_to_best_s: float
    elapsed_s: float
    checked: bool
    machine: str
    commit: str


@dataclass(frozen=True, slots=True)
class Curve:
    """The best objective of one run over time.

    Attributes
    ----------
    row : Row
        The run.
    time_s : numpy.ndarray
        Seconds of the improvements.
    value : numpy.ndarray
        The instance's measure from then on.
    """

    row: Row
    time_s: NDArray[np.float64]
    value: NDArray[np.int64]


def machine() -> str:
    """Name the processor, as far as the system tells it, and the number of cores."""
    name = platform.processor() or platform.machine()
    try:
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                name = line.split(":", 1)[1].strip()
                break
    except OSError:
        pass
    return f"{name}, {os.cpu_count()} cores"


def commit() -> str:
    """Name the commit of the sources this package runs from, or its version."""
    try:
        done = subprocess.run(
            ["git", "describe", "--always", "--dirty"],
            cwd=Path(__file__).parent,
            capture_output=True,
            text=True,
            check=True,
        )
    except (OSError, subprocess.CalledProcessError):
        return str(versions().get("sidon", "unknown"))
    return done.stdout.strip()


def run(
    family: str,
    instances: Iterable[Instance],
    *,
    methods: Sequence[str],
    seeds: Sequence[int],
    seconds: float,
    threads: int,
    jobs: int = 1,
    until: float | None = None,
    to_best_known: bool = False,
) -> Iterator[Curve]:
    """Run every instance with every method and seed.

    Parameters
    ----------
    family : str
        Name for the rows.
    instances : iterable of Instance
        Taken one by one.
    methods : sequence of str
        Methods of `sidon.solve`, by their names in `sidon.methods`.
    seeds : sequence of int
        Seeds.
    seconds : float
        Budget of each run.
    threads : int
        Worker threads of each run.
    jobs : int, optional
        Runs at a time, in processes of their own where there are several.
    until : float, optional
        No run begins that would last beyond this reading of `time.monotonic`.
    to_best_known : bool, optional
        End a run as soon as it meets the best known value.

    Yields
    ------
    Curve
        One for each run, in order, as soon as it and those before it are done.
    """
    where = (machine(), commit())
    tasks = (
        (
            family,
            instance,
            method,
            seed,
            seconds,
            threads,
            instance.is_met if to_best_known else None,
            where,
        )
        for instance in instances
        for method in methods
        for seed in seeds
    )

    def in_time() -> bool:
        return until is None or time.monotonic() + seconds <= until

    if jobs <= 1:
        for task in tasks:
            if not in_time():
                return
            yield _one(*task)
        return
    # Spawned, not forked: the engine's threads do not survive a fork.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        waiting: deque[Future[Curve]] = deque()
        try:
            for task in tasks:
                # One more than can run, so that few instances are held at a time.
                while len(waiting) > jobs:
                    yield waiting.popleft().result()
                if not in_time():
                    break
                waiting.append(pool.submit(_one, *task))
            while waiting:
                yield waiting.popleft().result()
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _one(
    family: str,
    instance: Instance,
    method: str,
    seed: int,
    seconds: float,
    threads: int,
    stop: Callable[[Event], bool] | None,
    where: tuple[str, str],
) -> Curve:
    met = False

    def progress(event: Event) -> bool:
        nonlocal met
        met = met or (stop is not None and stop(event))
        return met

    try:
        result = solve(
            instance.problem,
            objective=instance.objective,
            method=method,
            seed=seed,
            seconds=seconds,
            threads=threads,
            progress=progress,
        )
    except SidonError:
        raise
    except Exception as error:
        # A method from elsewhere may raise anything; what was run before must not be lost.
        what, why = f"method {method!r}", f"it raised {error!r} on {instance.name}, seed {seed}"
        raise MethodError(what, why, "mend it, or leave it out") from error
    if result.stop_reason == "interrupted" and not met:
        # A run cut short is none.
        raise KeyboardInterrupt
    report = recount(instance.problem, result)
    said = (result.hard, result.soft, result.refused, result.unserved)
    value = instance.value(result.frequencies, report)
    time_s, values = anytime(instance, result)
    row = Row(
        family=family,
        instance=instance.name,
        method=method,
        seed=seed,
        seconds=seconds,
        threads=threads,
        value=value,
        measure=instance.measure,
        best_known=instance.best_known,
        gap=instance.gap(value),
        bound=instance.bound(result.lower_bound),
        status=result.status,
        time_to_best_s=float(time_s[-1]) if len(time_s) else result.elapsed_s,
        elapsed_s=result.elapsed_s,
        checked=said == (report.hard, report.soft, report.refused, report.unserved),
        machine=where[0],
        commit=where[1],
    )
    return Curve(row, time_s, values)


def recount(problem: Problem, result: Result) -> Report:
    """Check an answer independently; broken hard rules are counted, not raised."""
    try:
        return check(problem, result)
    except CheckError as error:
        return error.report


def anytime(instance: Instance, result: Result) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return the moments at which the run's value improved, and the values.

    Parameters
    ----------
    instance : Instance
        For its measure.
    result : Result
        With its trace.

    Returns
    -------
    tuple of numpy.ndarray
        Seconds and values, both rising in time.
    """
    trace = result.trace
    counts = (trace["kind"] == "improvement") & (trace["objective"] >= 0)
    if instance.measure in {"cost", "served"}:
        counts &= trace["hard"] == 0
    counted = trace[instance.counted]
    time_s, objective = trace["time_s"][counts], counted[counts]
    best = np.minimum.accumulate(objective) if len(objective) else objective
    first = np.concatenate([[True], best[1:] < best[:-1]]) if len(best) else counts[:0]
    return time_s[first], instance.measured(best[first])
