"""Runs of heuristics written in Python: budget, trace, check and callback of the built-in ones."""

from __future__ import annotations

import gc
import signal
import threading
import weakref
from itertools import permutations
from typing import Any

import numpy as np
import pytest
from heuristic_cases import crowded, relocate, ruler

import sidon


def test_a_heuristic_finds_what_is_there() -> None:
    result = sidon.solve(ruler(), method=relocate, objective="min-interference", iterations=20_000)
    # The optimal Golomb ruler with four marks has length 6 (OEIS A003022).
    assert (result.hard, result.refused) == (0, 0)
    assert (result.status, result.stop_reason) == ("optimal", "proven")
    marks = set(result.frequencies.tolist())
    assert marks in ({0, 1, 4, 6}, {0, 2, 5, 6})


def test_a_construction_in_python_is_the_one_in_rust() -> None:
    def first_fit(state: sidon.State, run: sidon.Run) -> None:
        for link in range(len(state)):
            if not run.tick():
                return
            clean = np.flatnonzero(state.cost(link) < state.HARD)
            if clean.size:
                state.place(link, int(clean[0]))

    problem = crowded()
    ours = sidon.solve(problem, method=first_fit)
    theirs = sidon.solve(problem, method="first-fit")
    np.testing.assert_array_equal(ours.frequencies, theirs.frequencies)
    assert (ours.refused, ours.bound, ours.status) == (theirs.refused, theirs.bound, theirs.status)
    assert ours.stop_reason == "finished"
    assert ours.iterations == len(problem)


@pytest.mark.parametrize("objective", ["max-service", "min-interference"])
def test_the_answer_is_recounted(objective: Any) -> None:
    problem = crowded()
    result = sidon.solve(problem, method=relocate, objective=objective, seed=2, iterations=300)
    try:
        report = sidon.check(problem, result)
    except sidon.CheckError as error:
        report = error.report
    assert (report.hard, report.soft, report.unserved) == (
        result.hard,
        result.soft,
        result.unserved,
    )


def test_equal_seed_and_iterations_give_equal_plans() -> None:
    problem = crowded(20)

    def run(seed: int) -> tuple[list[int], int, list[int]]:
        result = sidon.solve(
            problem, method=relocate, objective="min-interference", seed=seed, iterations=200
        )
        return result.frequencies.tolist(), result.hard, result.trace["iteration"].tolist()

    assert run(7) == run(7)
    assert len({tuple(run(seed)[0]) for seed in range(3)}) == 3


def test_every_objective_takes_a_heuristic() -> None:
    def spread(state: sidon.State, run: sidon.Run) -> None:
        for plan in ([0, 5, 9, 12], [0, 1, 4, 6], [1, 1, 1, 1]):
            state.restore(plan)
            run.offer(state)

    problem = ruler(4, 13)
    spans = sidon.solve(problem, method=spread, objective="min-span")
    assert sorted(spans.frequencies.tolist()) == [0, 1, 4, 6]
    # The optimal Golomb ruler with four marks has length 6 (OEIS A003022).
    assert spans.objective == 6
    orders = sidon.solve(problem, method=spread, objective="min-order")
    assert orders.objective == 4
    assert orders.frequencies.tolist() == [0, 5, 9, 12]


def test_the_budget_of_iterations_is_exact() -> None:
    ticks = []

    def count(state: sidon.State, run: sidon.Run) -> None:
        while run.tick():
            ticks.append(run.iterations)
        assert not run.tick()

    result = sidon.solve(crowded(), method=count, iterations=123)
    assert ticks == list(range(1, 124))
    assert (result.iterations, result.stop_reason) == (123, "iteration-limit")


def test_the_budget_of_time_ends_a_run() -> None:
    def wait(state: sidon.State, run: sidon.Run) -> None:
        while run.tick():
            pass

    result = sidon.solve(crowded(), method=wait, seconds=0.1)
    assert result.stop_reason == "time-limit"
    assert result.elapsed_s >= 0.1


def test_the_trace_and_the_callback_tell_of_every_improvement() -> None:
    events: list[sidon.Event] = []
    threads: set[int] = set()

    def note(event: sidon.Event) -> None:
        events.append(event)
        threads.add(threading.get_ident())

    result = sidon.solve(
        crowded(20),
        method=relocate,
        objective="min-interference",
        iterations=500,
        progress=note,
    )
    assert threads == {threading.get_ident()}
    trace = result.trace
    assert trace["kind"].tolist() == ["improvement"] * (trace.n_rows - 1) + ["stop"]
    improved = [event for event in events if event.kind == "improvement"]
    assert [event.hard for event in improved] == trace["hard"][:-1].tolist()
    assert [event.iteration for event in improved] == trace["iteration"][:-1].tolist()
    assert trace["hard"][-1] == result.hard
    assert (np.diff(trace["time_s"]) >= 0).all()
    assert (np.diff(trace["hard"][1:]) <= 0).all()
    assert result.evaluations == trace["evaluations"][-1] > 500


def test_a_callback_may_stop_the_run() -> None:
    result = sidon.solve(
        crowded(20),
        method=relocate,
        objective="min-interference",
        seconds=600,
        progress=lambda event: event.hard < 100 and event.unserved == 0,
    )
    assert result.stop_reason == "interrupted"
    assert result.hard < 100


def test_a_callback_stops_a_silent_run() -> None:
    def silent(state: sidon.State, run: sidon.Run) -> None:
        while run.tick():
            pass

    heard: list[sidon.Event] = []

    def third(event: sidon.Event) -> bool:
        heard.append(event)
        return len(heard) == 3

    result = sidon.solve(crowded(), method=silent, seconds=600, progress=third)
    kinds = [event.kind for event in heard]
    assert kinds == ["improvement", "progress", "progress", "stop"]
    assert result.stop_reason == "interrupted"


def test_offers_are_compared_and_the_best_is_kept() -> None:
    seen: list[Any] = []

    def method(state: sidon.State, run: sidon.Run) -> None:
        assert run.best is not None
        assert run.best.unserved == 4
        state.place(0, 0)
        seen.append(run.offer(state))
        seen.append(run.offer(state))
        state.place(1, 0)  # on the same frequency
        seen.append(run.offer(state))
        state.lift(1)
        state.place(1, 1)
        seen.append(run.offer(state))
        seen.append(run.best)
        seen.append((run.seed, run.objective, run.bound, run.elapsed_s >= 0))
        for link in range(2):
            state.lift(link)

    result = sidon.solve(ruler(), method=method, seed=9)
    assert seen[:4] == [True, False, False, True]
    assert seen[4].assignment == result.assignment == {"0": 0, "1": 1, "2": None, "3": None}
    assert seen[4].unserved == 2
    assert seen[5] == (9, "max-service", 0, True)


def test_what_stands_at_the_end_is_offered() -> None:
    def method(state: sidon.State, run: sidon.Run) -> None:
        state.place(0, 0)

    assert sidon.solve(ruler(), method=method).served == 1


def test_several_states_may_be_offered() -> None:
    def method(state: sidon.State, run: sidon.Run) -> None:
        other = sidon.State(state.problem)
        other.place(0, 0)
        assert run.offer(other)
        stranger = sidon.State(ruler(5))
        with pytest.raises(sidon.InvalidProblemError, match="another problem"):
            run.offer(stranger)

    assert sidon.solve(ruler(), method=method).served == 1


def test_locked_links_stand_on_their_locks() -> None:
    problem = sidon.Problem.from_arrays(
        domains=[range(9)],
        link_domain=[0] * 4,
        link_locked_hz=[-1, 2, 4, 6],
        separation=1,
        guards={"2A-B": 1},
    )

    def method(state: sidon.State, run: sidon.Run) -> None:
        assert [state.locked(link) for link in range(4)] == [None, 2, 4, 6]
        assert state.free == (0,)
        # The last would break a rule, and stays off in max-service.
        assert [state.choice(link) for link in range(4)] == [None, 2, 4, None]
        state.place(0, 1)

    result = sidon.solve(problem, method=method)
    assert result.frequencies.tolist() == [1, 2, 4, -1]
    assert [sidon.State(problem).choice(link) for link in range(4)] == [None] * 4


def test_the_incumbent_survives_a_keyboard_interrupt() -> None:
    def method(state: sidon.State, run: sidon.Run) -> None:
        state.place(0, 0)
        run.offer(state)
        state.lift(0)
        raise KeyboardInterrupt

    result = sidon.solve(ruler(), method=method)
    assert (result.served, result.stop_reason) == (1, "interrupted")


def test_a_signal_between_two_moves_keeps_the_best() -> None:
    def method(state: sidon.State, run: sidon.Run) -> None:
        while run.tick():
            for link in range(3):
                state.place(link, link)
                if run.iterations == 50:
                    signal.raise_signal(signal.SIGINT)
            for link in range(3):
                state.lift(link)

    result = sidon.solve(ruler(), method=method, seconds=600)
    assert result.stop_reason == "interrupted"
    assert result.iterations == 50
    # What stood at that moment was the best: one link.
    assert result.assignment == {"0": 0, "1": None, "2": None, "3": None}


def test_a_handler_of_the_caller_raises_through_a_run() -> None:
    def ring(number: int, frame: object) -> None:
        raise TimeoutError

    def method(state: sidon.State, run: sidon.Run) -> None:
        while run.tick():
            if run.iterations == 50:
                signal.raise_signal(signal.SIGUSR1)

    before = signal.signal(signal.SIGUSR1, ring)
    try:
        with pytest.raises(TimeoutError):
            sidon.solve(ruler(), method=method, seconds=600)
    finally:
        signal.signal(signal.SIGUSR1, before)


def test_what_a_heuristic_raises_reaches_the_caller_unchanged() -> None:
    error = RuntimeError("mine")

    def method(state: sidon.State, run: sidon.Run) -> None:
        run.tick()
        raise error

    with pytest.raises(RuntimeError) as caught:
        sidon.solve(ruler(), method=method)
    assert caught.value is error


@pytest.mark.parametrize("swallow", [False, True])
def test_what_a_callback_raises_reaches_the_caller_unchanged(swallow: bool) -> None:  # noqa: FBT001
    error = RuntimeError("mine")

    def fail(event: sidon.Event) -> None:
        raise error

    def method(state: sidon.State, run: sidon.Run) -> None:
        state.place(0, 0)
        try:
            run.offer(state)
        except RuntimeError:
            if not swallow:
                raise
        assert not run.tick()

    with pytest.raises(RuntimeError) as caught:
        sidon.solve(ruler(), method=method, progress=fail)
    assert caught.value is error


def test_a_keyboard_interrupt_inside_the_callback_keeps_the_best() -> None:
    def interrupted(event: sidon.Event) -> None:
        raise KeyboardInterrupt

    result = sidon.solve(
        crowded(), method=relocate, objective="min-interference", seconds=600, progress=interrupted
    )
    assert result.stop_reason == "interrupted"


def test_a_callback_may_use_the_run_it_hears_of() -> None:
    found: list[sidon.Run] = []

    def method(state: sidon.State, run: sidon.Run) -> None:
        found.append(run)
        state.place(0, 0)
        run.offer(state)
        while run.tick():
            pass

    def curious(event: sidon.Event) -> None:
        for run in found:
            assert (run.best is None) == (event.kind == "stop")
            run.tick()

    result = sidon.solve(ruler(), method=method, iterations=50, progress=curious)
    assert result.iterations == 50
    [run] = found
    assert not run.tick()
    assert run.best is None
    assert (run.iterations, run.bound) == (0, 0)
    assert not run.offer(sidon.State(ruler()))


def test_a_run_that_is_let_go_is_collected() -> None:
    class Callback:
        run: sidon.Run | None = None

        def __call__(self, event: sidon.Event) -> None: ...

    def leave() -> weakref.ref[Callback]:
        callback = Callback()

        def method(state: sidon.State, run: sidon.Run) -> None:
            callback.run = run
            raise LookupError

        with pytest.raises(LookupError):
            sidon.solve(ruler(), method=method, progress=callback)
        return weakref.ref(callback)

    gone = leave()
    gc.collect()
    assert gone() is None


def test_heuristics_nest() -> None:
    def outer(state: sidon.State, run: sidon.Run) -> None:
        inner = sidon.solve(
            state.problem, method=relocate, objective="min-interference", seed=3, iterations=20_000
        )
        state.restore(inner)

    assert sidon.solve(ruler(), method=outer).served == 4


def test_any_callable_is_a_method() -> None:
    class Careful:
        def __call__(self, state: sidon.State, run: sidon.Run) -> None:
            state.place(0, 1)

    assert sidon.solve(ruler(), method=Careful()).served == 1
    for method in (None, 3, "", ["dsatur"]):
        with pytest.raises(sidon.InvalidProblemError, match="is not known"):
            sidon.solve(ruler(), method=method)  # type: ignore[arg-type]


def test_branch_and_bound_in_python_agrees_with_brute_force() -> None:
    def exhaust(state: sidon.State, run: sidon.Run) -> None:
        def descend(link: int) -> None:
            run.offer(state)
            if link == len(state) or not run.tick():
                return
            for at in np.flatnonzero(state.cost(link) < state.HARD).tolist():
                state.place(link, at)
                descend(link + 1)
                state.lift(link)
            descend(link + 1)

        descend(0)

    random = np.random.default_rng(4)
    for _ in range(5):
        domain = np.sort(random.choice(14, size=6, replace=False))
        problem = sidon.Problem.simple(domain, count=4, separation=2, guards={"2A-B": 1})
        best = 0
        for size in (2, 3, 4):
            for plan in permutations(domain.tolist(), size):
                try:
                    sidon.check(problem, [*plan, *[-1] * (4 - size)])
                except sidon.CheckError:
                    continue
                best = size
                break
        assert sidon.solve(problem, method=exhaust, seconds=60).served == best
