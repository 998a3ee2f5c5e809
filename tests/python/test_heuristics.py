"""Heuristics written in Python: the state they move, and the run that watches them."""

from __future__ import annotations

import copy
import gc
import pickle
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest
from heuristic_cases import crowded, relocate, ruler

import sidon

HARD = sidon.State.HARD


def test_a_row_is_what_a_recount_says() -> None:
    # The reference is the independent check, which counts every rule anew.
    problem = sidon.Problem.from_arrays(
        domains=[range(12)],
        link_domain=[0] * 5,
        separation=2,
        guards={"2A-B": 1, "A+B-C": 2},
        costs=[np.arange(12) % 5],
    )
    state = sidon.State(problem)
    random = np.random.default_rng(1)
    for link in random.permutation(5).tolist():
        plan = state.snapshot()
        row = state.cost(link)
        for at, hz in enumerate(state.candidates(link).tolist()):
            trial = plan.frequencies.copy()
            trial[link] = hz
            try:
                report = sidon.check(problem, trial)
            except sidon.CheckError as error:
                report = error.report
            assert state.total + row[at] == report.hard * HARD + report.soft
        state.place(link, int(random.integers(12)))
    assert state.total == state.hard * HARD + state.soft


def test_a_row_is_a_view_that_nobody_can_write() -> None:
    state = sidon.State(ruler())
    row = state.cost(0)
    assert row.dtype == np.int64
    assert row.flags.c_contiguous
    assert not row.flags.owndata
    assert np.shares_memory(row, state.cost(0))
    assert np.shares_memory(row, state.cost(3)), "links alike share one row"
    for array in (row, state.candidates(0)):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1
        with pytest.raises(ValueError, match="WRITEABLE"):
            array.flags.writeable = True
        with pytest.raises(ValueError, match="WRITEABLE"):
            array[1:].flags.writeable = True


def test_a_row_that_is_kept_stays_as_it_was() -> None:
    state = sidon.State(ruler(6, 30))
    kept: list[tuple[Any, Any]] = []
    for link in range(6):
        row = state.cost(link)
        kept.append((row, row.copy()))
        part = state.cost(link)[2:9]
        kept.append((part, part.copy()))
        kept.append((np.asarray(row.data), row.copy()))
        state.place(link, 3 * link)
    for row, copied in kept:
        np.testing.assert_array_equal(row, copied)
    del state, row, part
    gc.collect()
    for row, copied in kept:
        np.testing.assert_array_equal(row, copied)


def test_only_a_slice_is_kept() -> None:
    state = sidon.State(ruler(6, 30))
    part = state.cost(0)[5:8]
    before = part.copy()
    for link in range(6):
        state.place(link, 5 + link)
        assert state.cost(link).max() > 0
    np.testing.assert_array_equal(part, before)


def test_reading_and_moving_goes_on_without_new_buffers() -> None:
    state = sidon.State(ruler(6, 30))
    state.place(0, 0)
    addresses = set()
    for at in range(200):
        row = state.cost(1)
        addresses.add(row.ctypes.data)
        state.lift(0)
        state.place(0, at % 30)
    assert len(addresses) == 2


def test_moves_come_back() -> None:
    state = sidon.State(ruler())
    first = state.cost(0).copy()
    assert (state.total, state.unserved, state.choice(0)) == (0, 4, None)
    for link, at in enumerate((0, 1, 2, 3)):
        state.place(link, at)
    assert state.unserved == 0
    assert state.choice(2) == 2
    assert state.hard > 0
    assert [state.lift(link) for link in range(4)] == [0, 1, 2, 3]
    assert (state.total, state.unserved, state.evaluations) == (0, 4, 8)
    np.testing.assert_array_equal(state.cost(0), first)


def test_conflicts_name_the_other_links() -> None:
    state = sidon.State(
        sidon.Problem.simple([0, 2, 4, 5], count=3, separation=2, guards={"2A-B": 1})
    )
    for link, at in enumerate((0, 1, 2)):
        state.place(link, at)
    # 2 x 2 - 0 on 4, and 2 x 2 - 4 on 0.
    assert [sorted(rule) for rule in state.conflicts(0)] == [[1, 2], [1, 2]]
    assert state.hard == 2
    state.lift(2)
    assert state.conflicts(0) == state.conflicts(2) == []
    state.place(2, 3)
    assert state.conflicts(2) == []
    state.lift(1)
    state.place(1, 2)
    assert state.conflicts(2) == [[1]]


BAD_MOVES = [
    (lambda s: s.place(0, 3), sidon.MoveError, "lift it first"),
    (lambda s: s.lift(1), sidon.MoveError, "not placed"),
    (lambda s: s.place(2, 4), sidon.MoveError, "locked to candidate 6"),
    (lambda s: s.place(4, 0), IndexError, "no link 4: there are 4"),
    (lambda s: s.place(-1, 0), IndexError, "no link -1"),
    (lambda s: s.place(1, 7), IndexError, "no candidate 7: there are 7"),
    (lambda s: s.place(1, -1), IndexError, "no candidate -1"),
    (lambda s: s.place(1, 10**30), IndexError, "counted from 0"),
    (lambda s: s.lift(99), IndexError, "no link 99"),
    (lambda s: s.cost(4), IndexError, "no link 4"),
    (lambda s: s.cost(-(10**30)), IndexError, "counted from 0"),
    (lambda s: s.candidates(4), IndexError, "no link 4"),
    (lambda s: s.choice(4), IndexError, "no link 4"),
    (lambda s: s.locked(4), IndexError, "no link 4"),
    (lambda s: s.conflicts(4), IndexError, "no link 4"),
    (lambda s: s.cost(1.0), TypeError, "float"),
    (lambda s: s.place("0", 0), TypeError, "str"),
    (lambda s: s.place(1, None), TypeError, "NoneType"),
    (lambda s: s.restore([0, 1, 2]), sidon.MoveError, "3 frequencies for 4 links"),
    (lambda s: s.restore([0, 1, 6, 7]), sidon.MoveError, "link 3 on 7 Hz"),
    (lambda s: s.restore([3, 1, 5, 4]), sidon.MoveError, "locked to candidate 6"),
    (lambda s: s.restore({"x": 1}), sidon.InvalidProblemError, "no such link"),
    (lambda s: s.restore("plan"), sidon.InvalidProblemError, "single value"),
]


@pytest.mark.parametrize(("move", "error", "word"), BAD_MOVES)
def test_a_bad_move_is_refused_and_changes_nothing(move: Any, error: Any, word: str) -> None:
    problem = sidon.Problem.from_arrays(
        domains=[range(7)], link_domain=[0] * 4, link_locked_hz=[-1, -1, 6, -1], separation=1
    )
    state = sidon.State(problem)
    state.place(0, 1)
    before = (state.snapshot(), state.total, state.evaluations)
    with pytest.raises(error, match=word):
        move(state)
    assert (state.snapshot(), state.total, state.evaluations) == before
    if issubclass(error, sidon.SidonError):
        assert issubclass(error, ValueError)


def test_what_a_problem_cannot_hold_is_refused() -> None:
    fine = sidon.Problem.simple([0, 1, 10**12], count=3, guards={"2A-B": 1})
    with pytest.raises(sidon.TooLargeError):
        sidon.State(fine)
    with pytest.raises(sidon.TooLargeError):
        sidon.solve(fine, method=relocate)


def test_a_snapshot_is_immutable_and_goes_round() -> None:
    problem = ruler()
    state = sidon.State(problem)
    state.place(1, 4)
    kept = state.snapshot()
    assert kept.assignment == {"0": None, "1": 4, "2": None, "3": None}
    assert (kept.unserved, kept.hard, kept.soft) == (3, 0, 0)
    assert sidon.check(problem, kept).refused == 3
    assert sidon.why_refused(problem, kept, 0).clean == 6
    with pytest.raises(ValueError, match="read-only"):
        kept.frequencies[0] = 1
    with pytest.raises(AttributeError):
        kept.hard = 3  # type: ignore[misc]
    for other in (pickle.loads(pickle.dumps(kept)), copy.copy(kept), copy.deepcopy(kept)):
        assert other == kept
        assert hash(other) == hash(kept)
        assert not other.frequencies.flags.writeable
    for link, at in ((0, 0), (2, 1), (3, 6)):
        state.place(link, at)
    full = state.snapshot()
    assert full != kept
    state.restore(pickle.loads(pickle.dumps(kept)))
    assert state.snapshot() == kept
    assert (state.total, state.unserved) == (0, 3)


def test_a_state_goes_back_to_a_plan_in_any_form() -> None:
    problem = ruler()
    result = sidon.solve(problem, seed=1, iterations=10_000)
    for plan in (result, result.assignment, result.frequencies, result.frequencies.tolist()):
        state = sidon.State(problem)
        state.place(0, 3)
        state.restore(plan)
        np.testing.assert_array_equal(state.snapshot().frequencies, result.frequencies)
        moved = state.evaluations
        state.restore(plan)
        assert state.evaluations == moved, "what stands already is not moved"


def test_a_state_prints_and_counts() -> None:
    state = sidon.State(ruler())
    state.place(0, 0)
    state.place(1, 0)
    assert repr(state) == "State(2 of 4 links placed, 1 hard, soft cost 0)"
    assert len(state) == 4
    assert state.problem == ruler()


def test_threads_may_share_a_state() -> None:
    problem = crowded(16)
    state = sidon.State(problem)

    def work(link: int) -> None:
        random = np.random.default_rng(link)
        for _ in range(300):
            row = state.cost(link)
            copied = row.copy()
            state.place(link, int(random.integers(len(row))))
            assert (row == copied).all()
            state.lift(link)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(work, range(16)))
    assert (state.total, state.unserved) == (0, 16)
    assert not state.cost(0).any()
