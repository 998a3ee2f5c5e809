"""The door to the engine: interrupts, callbacks, threads, and the interpreter left free."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sidon
from sidon import MHz, kHz

LONG_S = 600.0
"""A budget that no test means to spend."""


def crowded(count: int = 60) -> sidon.Problem:
    """Ask for far more carriers than fit, so that a run ends by its budget only."""
    return sidon.Problem.simple(
        range(518 * MHz, 534 * MHz, 25 * kHz),
        count=count,
        separation=350 * kHz,
        guards={"2A-B": 50 * kHz, "A+B-C": 50 * kHz},
    )


CHILD = """
    import json, os, signal, sys, threading, time
    sys.path.insert(0, {folder!r})
    import sidon
    from test_door import LONG_S, crowded

    stamps = {{}}

    def press(times):
        for _ in range(times):
            stamps["pressed"] = time.monotonic()
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(0.01)

    def first_event(event):
        if "pressed" not in stamps:
            stamps["pressed"] = None
            threading.Thread(target=press, args=({times},)).start()

    try:
        result = sidon.solve(crowded(), seconds=LONG_S, progress=first_event, threads=2)
        stamps["returned"] = time.monotonic()
        report = sidon.check(crowded(), result)
        print(json.dumps({{
            "stop_reason": result.stop_reason,
            "served": result.served,
            "hard": report.hard,
            "latency_s": stamps["returned"] - stamps["pressed"],
        }}))
    except KeyboardInterrupt:
        print(json.dumps({{"raised": "KeyboardInterrupt"}}))
"""


def run_child(body: str, **values: Any) -> dict[str, Any]:
    code = textwrap.dedent(body).format(folder=str(Path(__file__).parent), **values)
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=100, check=False
    )
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def test_ctrl_c_returns_the_best_so_far() -> None:
    answer = run_child(CHILD, times=1)
    print(f"from Ctrl-C to the result: {1000 * answer['latency_s']:.0f} ms")
    assert answer["stop_reason"] == "interrupted"
    assert answer["served"] > 0
    assert answer["hard"] == 0


def test_ctrl_c_without_a_callback() -> None:
    child = """
        import json, os, signal, sys, threading, time
        sys.path.insert(0, {folder!r})
        import sidon
        from test_door import LONG_S, crowded

        def press():
            # The watcher runs because the interpreter is free.
            time.sleep({delay})
            os.kill(os.getpid(), signal.SIGINT)

        problem = crowded()
        threading.Thread(target=press).start()
        result = sidon.solve(problem, seconds=LONG_S)
        print(json.dumps({{"stop_reason": result.stop_reason, "served": result.served}}))
    """
    answer = run_child(child, delay=0.5)
    assert answer["stop_reason"] == "interrupted"
    assert answer["served"] > 0


def test_a_handler_of_the_caller_raises_through_a_run() -> None:
    class AlarmError(Exception):
        pass

    def ring(number: int, frame: object) -> None:
        raise AlarmError

    before = signal.signal(signal.SIGUSR1, ring)
    timer = threading.Timer(0.1, os.kill, (os.getpid(), signal.SIGUSR1))
    try:
        timer.start()
        with pytest.raises(AlarmError):
            sidon.solve(crowded(), seconds=LONG_S)
    finally:
        timer.join()
        signal.signal(signal.SIGUSR1, before)


def test_the_interpreter_is_free_while_the_engine_works() -> None:
    loops = 0
    over = threading.Event()

    def spin() -> None:
        nonlocal loops
        while not over.is_set():
            loops += 1

    thread = threading.Thread(target=spin)
    thread.start()
    try:
        before = loops
        sidon.solve(crowded(), seconds=0.5, threads=1)
        during = loops - before
    finally:
        over.set()
        thread.join()
    # Held, the interpreter would let the thread turn at the edges of the call only.
    assert during > 10_000


def test_a_callback_stops_a_run() -> None:
    events: list[sidon.Event] = []

    def enough(event: sidon.Event) -> bool:
        events.append(event)
        return len(events) >= 3

    result = sidon.solve(crowded(), seconds=LONG_S, progress=enough)
    assert result.stop_reason == "interrupted"
    assert result.served > 0
    assert len(events) >= 3
    sidon.check(crowded(), result)


def test_a_callback_hears_of_the_best_plan_in_its_own_thread() -> None:
    threads: set[int] = set()
    best = [10**9]

    def note(event: sidon.Event) -> str:
        threads.add(threading.get_ident())
        assert event.kind in ("restart", "improvement", "progress", "stop")
        assert event.time_s >= 0
        best.append(min(best[-1], event.unserved))
        return "any other value is no wish to stop"

    result = sidon.solve(crowded(), iterations=30_000, progress=note)
    assert result.stop_reason == "iteration-limit"
    assert threads == {threading.get_ident()}
    assert best[-1] == result.unserved


def test_what_a_callback_raises_reaches_the_caller_unchanged() -> None:
    class OwnError(Exception):
        pass

    error = OwnError("mine")

    def fail(event: sidon.Event) -> None:
        raise error

    with pytest.raises(OwnError) as caught:
        sidon.solve(crowded(), seconds=LONG_S, progress=fail)
    assert caught.value is error


def test_a_keyboard_interrupt_inside_the_callback_keeps_the_best() -> None:
    def interrupted(event: sidon.Event) -> None:
        raise KeyboardInterrupt

    result = sidon.solve(crowded(), seconds=LONG_S, progress=interrupted)
    assert result.stop_reason == "interrupted"
    assert result.served > 0


@pytest.mark.parametrize("method", ["first-fit", "dsatur", "local-search"])
@pytest.mark.parametrize("objective", ["max-service", "min-interference"])
def test_equal_seed_and_iterations_give_equal_plans(method: Any, objective: Any) -> None:
    answers = [
        sidon.solve(
            crowded(40),
            method=method,
            objective=objective,
            seed=5,
            iterations=20_000,
            threads=threads,
        )
        for threads in (1, 2, 4)
    ]
    first = answers[0]
    for other in answers[1:]:
        np.testing.assert_array_equal(first.frequencies, other.frequencies)
        assert (first.unserved, first.hard, first.soft) == (other.unserved, other.hard, other.soft)


def test_another_seed_gives_another_plan() -> None:
    def plan(seed: int) -> tuple[int, ...]:
        result = sidon.solve(crowded(30), objective="min-interference", seed=seed, iterations=3_000)
        return tuple(result.frequencies.tolist())

    assert len({plan(seed) for seed in range(4)}) > 1


def test_runs_side_by_side_give_what_they_give_alone() -> None:
    problem = crowded(30)

    def run(seed: int) -> list[int]:
        result = sidon.solve(problem, seed=seed, iterations=5_000, threads=1)
        plan: list[int] = result.frequencies.tolist()
        return plan

    alone = [run(seed) for seed in range(4)]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(run, range(4)))
    assert alone == together


def test_outside_the_main_thread_the_callback_stops_a_run() -> None:
    start = time.monotonic()

    def enough(event: sidon.Event) -> bool:
        return time.monotonic() - start > 0.1

    with ThreadPoolExecutor(1) as pool:
        future = pool.submit(sidon.solve, crowded(), seconds=LONG_S, progress=enough)
        assert future.result(timeout=60).stop_reason == "interrupted"


def test_a_fork_after_a_run_can_run() -> None:
    child = """
        import json, multiprocessing, sys
        sys.path.insert(0, {folder!r})
        import sidon
        from test_door import crowded

        def served(seed):
            return sidon.solve(crowded(20), seed=seed, iterations=2_000).served

        here = [served(seed) for seed in range(3)]
        with multiprocessing.get_context("fork").Pool(2) as pool:
            there = pool.map(served, range(3))
        print(json.dumps({{"here": here, "there": there}}))
    """
    answer = run_child(child)
    assert answer["here"] == answer["there"]
