"""Arguments of a run: what is known, what is in range, every fault at once."""

from __future__ import annotations

import math
from typing import Literal, TypeAlias, get_args

import numpy as np

from sidon._entry_points import registered
from sidon.exceptions import Fault, InvalidProblemError

__all__ = ["Method", "Objective", "check_options", "raise_if", "thread_faults", "whole_number"]

Objective: TypeAlias = Literal["max-service", "min-interference", "min-span", "min-order"]
Method: TypeAlias = Literal[
    "first-fit",
    "dsatur",
    "rlf",
    "local-search",
    "tabucol",
    "partialcol",
    "simulated-annealing",
    "lns",
    "branch-and-bound",
    "portfolio",
]

_MAX_THREADS = 1024


def whole_number(value: object) -> int | None:
    """Return a whole number of Python or numpy as `int`; None for anything else."""
    if isinstance(value, int | np.integer) and not isinstance(value, bool):
        return int(value)
    return None


def check_options(
    objective: object,
    method: object,
    seed: object,
    iterations: object,
    seconds: object,
    threads: object,
    progress: object,
) -> None:
    """Raise with every argument that is out of range."""
    faults = _name_faults("objective", objective, get_args(Objective))
    # What packages register takes milliseconds to read, which counts where calls are many.
    named = isinstance(method, str) and (method in get_args(Method) or method in registered())
    if not callable(method) and not named:
        faults += _name_faults("method", method, (*get_args(Method), *registered()))
    faults += _whole_faults("seed", seed, 0, 2**64 - 1)
    if iterations is not None:
        faults += _whole_faults("iterations", iterations, 1, 2**64 - 1)
    if seconds is not None and not _is_time(seconds):
        remedy = "give a number of seconds above 0, or iterations for a repeatable run"
        faults.append(Fault("seconds", f"{seconds!r} is no time", remedy))
    faults += thread_faults(threads)
    if progress is not None and not callable(progress):
        remedy = "give a function of one argument, an Event"
        faults.append(Fault("progress", f"{progress!r} cannot be called", remedy))
    raise_if(faults)


def _is_time(seconds: object) -> bool:
    if isinstance(seconds, bool) or not isinstance(seconds, int | float | np.integer | np.floating):
        return False
    return 0 < float(seconds) < math.inf


def _name_faults(place: str, value: object, known: tuple[str, ...]) -> list[Fault]:
    if value in known:
        return []
    names = ", ".join(map(repr, known))
    return [Fault(place, f"{value!r} is not known", f"use one of {names}")]


def _whole_faults(place: str, value: object, low: int, high: int) -> list[Fault]:
    n = whole_number(value)
    if n is not None and low <= n <= high:
        return []
    return [Fault(place, f"{value!r} is out of range", f"give a whole number, {low} to {high}")]


def thread_faults(threads: object) -> list[Fault]:
    """Find what is wrong with a number of threads."""
    return [] if threads is None else _whole_faults("threads", threads, 1, _MAX_THREADS)


def raise_if(faults: list[Fault]) -> None:
    """Raise with these faults, if there are any."""
    if faults:
        raise InvalidProblemError(faults)
