"""Problems from columns: costs in the caller's order, pair rules in bulk, forms by coefficients."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
import pytest

import sidon
from sidon import kHz

CARRIERS = [470_000_000, 470_375_000, 470_850_000, 471_225_000, 472_000_000, 472_450_000]


def costs_by_frequency(problem: sidon.Problem, link: int) -> dict[int, int]:
    """Read the cost of each candidate off the check, which counts the soft cost of a plan."""
    plan = np.full(len(problem), -1)
    found = {}
    for hz in problem.candidates_hz(link).tolist():
        plan[link] = hz
        found[hz] = sidon.check(problem, plan).soft
    return found


@pytest.mark.parametrize("order", [[1, 2, 3], [3, 1, 2], [2, 3, 1, 3]])
def test_costs_go_with_the_frequencies_as_they_are_given(order: list[int]) -> None:
    problem = sidon.Problem.from_arrays(
        domains=[order], link_domain=[0], costs=[[10 * hz for hz in order]]
    )
    assert costs_by_frequency(problem, 0) == {1: 10, 2: 20, 3: 30}


def test_one_table_may_serve_domains_in_different_orders() -> None:
    problem = sidon.Problem.from_arrays(
        domains=[[1, 2, 3], [3, 2, 1], [6, 5, 4]],
        link_domain=[0, 1, 2, 1],
        costs=np.array([[10, 20, 30], [7, 8, 9]]),
        link_costs=[0, 0, 1, -1],
    )
    assert costs_by_frequency(problem, 0) == {1: 10, 2: 20, 3: 30}
    assert costs_by_frequency(problem, 1) == {3: 10, 2: 20, 1: 30}
    assert costs_by_frequency(problem, 2) == {6: 7, 5: 8, 4: 9}
    assert costs_by_frequency(problem, 3) == {1: 0, 2: 0, 3: 0}


def test_without_link_costs_one_table_serves_all_or_each_link_has_its_own() -> None:
    shared = sidon.Problem.from_arrays(domains=[[1, 2]], link_domain=[0, 0, 0], costs=[[5, 6]])
    assert [costs_by_frequency(shared, link)[2] for link in range(3)] == [6, 6, 6]
    own = sidon.Problem.from_arrays(
        domains=[[1, 2]], link_domain=[0, 0, 0], costs=np.arange(6).reshape(3, 2)
    )
    assert [costs_by_frequency(own, link)[2] for link in range(3)] == [1, 3, 5]


BAD_COSTS: list[tuple[dict[str, Any], str, str]] = [
    ({"costs": [[1, 2], [3, 4]]}, "costs", "2 tables for 3 links"),
    ({"costs": [[1, 2, 3]]}, "links[0].costs", "3 entries"),
    ({"costs": [[1, 2, 3]], "domains": [[2, 1]]}, "costs[0]", "3 entries for a domain of 2"),
    ({"costs": [[1, 2, 3]], "domains": [[2, 1, 2]]}, "costs[0]", "2 Hz stands twice"),
    ({"costs": [[1, 2]], "link_costs": [0, 1, -1]}, "link_costs[1]", "1"),
    ({"costs": [[1, 2]], "link_costs": [0, 0]}, "link_costs", "2 entries where there are 3"),
    ({"costs": [[1, 2]], "link_costs": [0, "x", 0]}, "link_costs[1]", "x"),
    ({"costs": [[1, "x"]]}, "costs[0][1]", "x"),
]


@pytest.mark.parametrize(("fields", "place", "word"), BAD_COSTS)
def test_costs_that_do_not_fit_are_refused(fields: dict[str, Any], place: str, word: str) -> None:
    given: dict[str, Any] = {"domains": [[1, 2]], "link_domain": [0, 0, 0]} | fields
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.Problem.from_arrays(**given)
    faults = {fault.place: fault for fault in caught.value.faults}
    assert place in faults
    assert word in str(faults[place])


def test_pair_rules_come_in_columns_of_any_kind() -> None:
    table = pd.DataFrame({"a": [0, 0, 1], "b": [1, 2, 2], "hz": [5, 7, 3], "cost": [0, 4, 2]})
    columns = tuple(table[name] for name in table)
    problem = sidon.Problem.from_arrays(
        domains=[range(20)], link_domain=[0] * 3, pairs=columns[:3], exact_pairs=columns
    )
    plain = sidon.Problem.from_arrays(
        domains=[range(20)],
        link_domain=[0] * 3,
        pairs=tuple(np.array(c) for c in columns[:3]),
        exact_pairs=tuple(list(c) for c in columns),
    )
    assert problem == plain
    rules = problem.to_dict()["pairs"]
    assert [rule["relation"] for rule in rules] == [
        {"at_least": 5},
        {"at_least": 7},
        {"at_least": 3},
        {"exactly": 5},
        {"exactly": 7},
        {"exactly": 3},
    ]
    assert [rule["weight"] for rule in rules] == ["hard"] * 4 + [{"soft": 4}, {"soft": 2}]


@pytest.mark.parametrize(
    ("pairs", "place"),
    [
        (([-1], [1], [5]), "pairs.a[0]"),
        (([0], [9], [5]), "pairs.b[0]"),
        (([0, 0], [1, -7], [5, 5]), "pairs.b[1]"),
        (([0], [1], [5], [-3]), "pairs.weight[0]"),
        (([0], [1], [5], [2**32]), "pairs[0].weight"),
        (([0], [1], [-5]), "pairs.distance_hz[0]"),
        (([0.5], [1], [5]), "pairs.a[0]"),
    ],
)
def test_pair_rules_that_are_none_are_refused(pairs: Any, place: str) -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.Problem.from_arrays(domains=[range(20)], link_domain=[0, 0], pairs=pairs)
    assert any(fault.place.startswith(place) for fault in caught.value.faults)
    assert all(fault.remedy for fault in caught.value.faults)


def test_a_column_that_is_all_wrong_is_not_listed_in_full() -> None:
    n = 10_000
    pairs = (
        np.zeros(n, dtype=int),
        np.ones(n, dtype=int),
        np.ones(n, dtype=int),
        np.full(n, 2**32),
    )
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.Problem.from_arrays(domains=[range(20)], link_domain=[0, 0], pairs=pairs)
    assert len(caught.value.faults) == 10


# --- forms by their coefficients


SAME_FORMS = [
    ((2, -1), "2A-B"),
    ((-1, 2), "2A-B"),
    ((1, 1, -1), "A+B-C"),
    ((-1, 1, 1), "B+C-A"),
    ((3, -2), "3A-2B"),
    ((2, 1, -2), "2A+B-2C"),
    ((1, 1, 1, -1, -1), "A+B+C-D-E"),
    ((5, -4), "5A-4B"),
    (tuple(np.array([2, -1])), "2A-B"),
]


@pytest.mark.parametrize(("coefficients", "text"), SAME_FORMS)
def test_coefficients_and_text_are_the_same_form(coefficients: Any, text: str) -> None:
    by_tuple: dict[Any, Any] = {coefficients: 50 * kHz}
    by_text = {text: 50 * kHz}
    for call in (sidon.hits, sidon.hit_counts):
        ours, theirs = call(CARRIERS, guards=by_tuple), call(CARRIERS, guards=by_text)
        assert list(ours) == list(theirs)
        assert list(ours.rows()) == list(theirs.rows())
    assert sidon.Problem.simple(CARRIERS, count=4, guards=by_tuple) == sidon.Problem.simple(
        CARRIERS, count=4, guards=by_text
    )
    arrays: dict[str, Any] = {"domains": [CARRIERS], "link_domain": [0, 0]}
    assert sidon.Problem.from_arrays(**arrays, guards=by_tuple) == sidon.Problem.from_arrays(
        **arrays, guards=by_text
    )
    sets = [
        sidon.largest_set(CARRIERS, separation=1, guards=guards, iterations=2_000)
        for guards in (by_tuple, by_text)
    ]
    assert sets[0].frequencies.tolist() == sets[1].frequencies.tolist()


def test_a_whole_problem_takes_coefficients_too() -> None:
    def fields(form: object) -> dict[str, Any]:
        guards = [{"form": form, "guard_hz": 5}, {"form": "A+B-C", "guard_hz": 3}]
        return {
            "profiles": [{"name": "p", "separation_hz": 1, "guards": guards}],
            "zones": ["z"],
            "domains": [range(30)],
            "links": [{"id": "a", "profile": 0, "zone": 0, "domain": 0}],
        }

    described = sidon.Problem(**fields("3A-2B")).to_dict()
    for form in ((3, -2), [-2, 3], np.array([3, -2])):
        assert sidon.Problem(**fields(form)).to_dict() == described
        raw = described | {"profiles": fields(form)["profiles"]}
        assert sidon.Problem.from_dict(raw).to_dict() == described
    calls: list[Callable[[], object]] = [
        lambda: sidon.Problem(**fields((3, -1))),
        lambda: sidon.Problem.from_dict(fields((3, -1))),
    ]
    for call in calls:
        with pytest.raises(sidon.InvalidProblemError) as caught:
            call()
        assert caught.value.faults[0].place == "profiles[0].guards[0].form"


def test_hits_of_any_coefficients_are_those_of_their_definition() -> None:
    # The reference is the definition, written out over all tuples of distinct carriers.
    random = np.random.default_rng(5)
    for coefficients in [(2, -1), (1, 1, -1), (4, -3), (2, 2, -3), (1, 1, 1, -2)]:
        marks = np.sort(random.choice(60, size=7, replace=False)).tolist()
        expected = set()
        for places in product(range(7), repeat=len(coefficients)):
            landed = sum(m * marks[i] for m, i in zip(coefficients, places, strict=True))
            if len(set(places)) < len(places) or landed not in marks:
                continue
            victim = marks.index(landed)
            if victim not in places:
                sources = zip(coefficients, places, strict=True)
                expected.add((victim, tuple(sorted(sources, key=lambda s: (-s[0], s[1])))))
        found = sidon.hits(marks, guards={coefficients: 1})
        assert {
            (
                victim,
                tuple(sorted(zip(coefficients, sources, strict=True), key=lambda s: (-s[0], s[1]))),
            )
            for sources, victim in zip(found["sources"], found["victim"].tolist(), strict=True)
        } == expected
        assert found.n_rows == len(expected)


BAD_FORMS: list[tuple[object, str]] = [
    ((2, -2), "do not sum to 1"),
    ((1,), "single letter"),
    ((), "do not sum to 1"),
    ((2, 0, -1), "zero"),
    ((6, -5), "order 11 is above 9"),
    ((10**30, 1 - 10**30), "above 9"),
    ((2.0, -1.0), "whole coefficients"),
    ((True, True, -1), "whole coefficients"),
    ((Fraction(2), -1), "whole coefficients"),
    (("2", "-1"), "whole coefficients"),
    (3, "whole coefficients"),
    (None, "whole coefficients"),
    (frozenset({2, -1}), "whole coefficients"),
]


@pytest.mark.parametrize(("form", "word"), BAD_FORMS)
def test_coefficients_that_are_no_form_are_refused(form: Any, word: str) -> None:
    calls: list[Callable[[], object]] = [
        lambda: sidon.hits(CARRIERS, guards={form: 1}),
        lambda: sidon.hit_counts(CARRIERS, guards={form: 1}),
        lambda: sidon.largest_set(CARRIERS, separation=1, guards={form: 1}),
        lambda: sidon.Problem.simple(CARRIERS, count=3, guards={form: 1}),
        lambda: sidon.Problem.from_arrays(domains=[CARRIERS], link_domain=[0], guards={form: 1}),
    ]
    for call in calls:
        with pytest.raises(sidon.InvalidProblemError) as caught:
            call()
        [fault] = caught.value.faults
        assert fault.place == f"guards[{form!r}]"
        assert word in str(fault)
        assert "2A-B" in fault.remedy or "(2, -1)" in fault.remedy


def test_a_form_given_twice_is_refused() -> None:
    with pytest.raises(sidon.InvalidProblemError, match="2A-B stands twice"):
        sidon.hits(CARRIERS, guards={"2A-B": 1, (-1, 2): 5})
