"""Everything a caller holds goes through pickle, and so to other processes."""

from __future__ import annotations

import copy
import multiprocessing
import pickle
from typing import Any

import numpy as np
import pytest

import sidon


def problem() -> sidon.Problem:
    return sidon.Problem.simple(range(18), count=7, separation=1, guards={"2A-B": 1, "A+B-C": 1})


def ways(value: Any) -> list[Any]:
    rounds = [pickle.loads(pickle.dumps(value, p)) for p in range(2, pickle.HIGHEST_PROTOCOL + 1)]
    return [*rounds, copy.copy(value), copy.deepcopy(value)]


def events() -> list[sidon.Event]:
    seen: list[sidon.Event] = []
    sidon.solve(problem(), iterations=100, progress=seen.append)
    return seen


def report() -> sidon.Report:
    with pytest.raises(sidon.CheckError) as caught:
        sidon.check(problem(), range(7))
    return caught.value.report


def test_problems_reports_and_events() -> None:
    found = events()
    assert found
    for value in (
        problem(),
        problem()._inner,
        report(),
        report().violations[0],
        sidon.why_refused(problem(), [0, 1, 3, -1, -1, -1, -1], 6),
        found[0],
        sidon.Fault("a", "b", "c"),
    ):
        for other in ways(value):
            assert other == value
            assert type(other) is type(value)


def test_an_event_keeps_every_field() -> None:
    event = events()[0]
    names = [name for name in dir(event) if not name.startswith("_")]
    assert len(names) == 11
    for other in ways(event):
        for name in names:
            assert getattr(other, name) == getattr(event, name)
    with pytest.raises(AttributeError):
        event.refused = 0  # type: ignore[misc]


def test_results() -> None:
    result = sidon.solve(problem(), iterations=1_000)
    for other in ways(result):
        assert repr(other) == repr(result)
        assert other.assignment == result.assignment
        assert list(other.trace) == list(result.trace)
        for name, column in result.trace.items():
            np.testing.assert_array_equal(other.trace[name], column)


def test_tables() -> None:
    table = sidon.hits(range(5), guards={"2A-B": 1})
    for other in ways(table):
        assert type(other) is type(table)
        assert list(other.rows()) == list(table.rows())


@pytest.mark.parametrize(
    "error",
    [
        sidon.SidonError("a"),
        sidon.InvalidProblemError([sidon.Fault("links[3]", "wrong", "mend it")]),
        sidon.StudyError([sidon.Fault("a", "b", "c"), sidon.Fault("d", "e", "f")]),
        sidon.UnreadableError("a number", "it is none", "write digits"),
        sidon.TooLargeError("the list", "it is long", "shorten it"),
        sidon.PlanError("not a plan"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_errors(error: sidon.SidonError) -> None:
    for other in ways(error):
        assert type(other) is type(error)
        assert other.args == error.args
        assert str(other) == str(error)
        assert vars(other) == vars(error)


def test_errors_of_the_engine_and_of_checks() -> None:
    caught: list[Exception] = []
    for call in (
        lambda: sidon.parse_frequency("five"),
        lambda: sidon.Problem.from_json("{"),
        lambda: sidon.hits([10**15], guards={}),
        lambda: sidon.check(problem(), range(7)),
    ):
        with pytest.raises(sidon.SidonError) as info:
            call()
        caught.append(info.value)
    for error in caught:
        for other in ways(error):
            assert type(other) is type(error)
            assert str(other) == str(error)
    assert len({type(error) for error in caught}) == 3


def refused(arguments: tuple[sidon.Problem, int]) -> tuple[int, list[int]]:
    result = sidon.solve(arguments[0], seed=arguments[1], iterations=500, threads=1)
    return result.refused, result.frequencies.tolist()


def test_a_pool_of_fresh_processes() -> None:
    work = [(problem(), seed) for seed in range(3)]
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        there = pool.map(refused, work)
    assert there == [refused(arguments) for arguments in work]
