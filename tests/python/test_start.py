"""Warm starts: every form of a plan, faults, and repair with the fewest retuned links."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
import pytest

import sidon
from sidon import InvalidProblemError


def repair(home: list[int | None], size: int = 8) -> sidon.Problem:
    """Links two apart on ``range(size)`` with guards on 2A-B; 1 for every frequency but home."""
    return sidon.Problem.from_arrays(
        domains=[range(size)],
        link_domain=[0] * len(home),
        separation=2,
        guards={"2A-B": 1},
        costs=[[0 if hz is None else int(f != hz) for f in range(size)] for hz in home],
    )


def fewest(problem: sidon.Problem, links: int, size: int) -> tuple[int, int]:
    """Return unserved links and retunes of the best plan, by exhaustion."""
    best = (links, links)
    for plan in product(range(-1, size), repeat=links):
        try:
            report = sidon.check(problem, list(plan), threads=1)
        except sidon.CheckError:
            continue
        best = min(best, (report.unserved, report.soft))
    return best


@pytest.mark.parametrize("home", [[0, 2, 5, None], [1, 3, 3, None], [0, None, 4, 6]])
@pytest.mark.parametrize("method", ["local-search", "lns", "portfolio"])
def test_repair_retunes_as_few_links_as_exhaustion(home: list[int | None], method: Any) -> None:
    problem = repair(home)
    result = sidon.solve(
        problem,
        method=method,
        start=home,
        seed=1,
        iterations=4_000,
        threads=1,
    )
    assert (result.unserved, result.soft) == fewest(problem, len(home), 8)


def test_a_start_is_taken_in_every_form() -> None:
    problem = repair([0, 2, 5])
    starts: list[Any] = [
        [0, 2, 5],
        np.array([0, 2, 5]),
        {"0": 0, "1": 2, "2": 5},
        sidon.solve(problem, start=[0, 2, 5], iterations=10),
    ]
    for start in starts:
        result = sidon.solve(problem, start=start, method="first-fit", threads=1)
        assert result.frequencies.tolist() == [0, 2, 5]
    # What is left out is placed.
    assert sidon.solve(problem, start=[0, None, 5], method="first-fit", threads=1).refused == 0


def test_a_heuristic_of_ones_own_begins_with_it() -> None:
    seen = []

    def look(state: sidon.State, _: sidon.Run) -> None:
        seen.append(state.frequencies().tolist())

    result = sidon.solve(repair([0, 2, 5]), method=look, start=[0, 2, None])
    assert seen == [[0, 2, -1]]
    assert result.refused == 1


@pytest.mark.parametrize("method", ["local-search", lambda state, run: None])
def test_faults_of_a_start(method: Any) -> None:
    problem = repair([0, 2, 5])
    starts: list[tuple[Any, str]] = [
        ([0, 2], "start"),
        ([0, 2, 99], "start[2]"),
        ({"0": 0, "nobody": 2}, "start['nobody']"),
        (["a", 0, 0], "start[0]"),
    ]
    for start, place in starts:
        with pytest.raises(InvalidProblemError) as caught:
            sidon.solve(problem, method=method, start=start, iterations=1)
        assert place in [fault.place for fault in caught.value.faults]
