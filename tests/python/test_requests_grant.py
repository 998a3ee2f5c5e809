"""Granting wishes after the search: who makes way for whom, and that nobody loses service."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sidon
from sidon.event.requests.table import csv_rows
from sidon.event.requests.wishes import grant, wish_costs

WANTED = 482_500_000


def rearranged(
    fields: dict[str, Any], rows: list[dict[str, Any]], hertz: list[int]
) -> dict[str, int]:
    """Grant the wishes of a study, starting from carriers that a search might have found."""
    for key in ("demand", "locks", "incumbents"):
        fields.pop(key, None)
    defaults = {"zone": "hall", "profile": "hand"}
    study = sidon.Study.from_dict({**fields, "requests": {"rows": rows, "defaults": defaults}})
    problem, links = study.problem(), study._compiled.links
    found = sidon.solve(problem, objective="max-service", iterations=1)
    start = dataclasses.replace(found, frequencies=np.array(hertz, dtype=np.int64))
    before = sidon.check(problem, start)
    result = grant(links, problem, start)
    after = sidon.check(problem, result)
    assert before.hard == after.hard == 0
    assert after.refused == before.refused
    return {link: hz for link, hz in result.assignment.items() if hz is not None}


def test_links_that_are_alike_exchange(study_fields: dict[str, Any]) -> None:
    rows: list[dict[str, Any]] = [{"link": "a", "wanted": 482.5}, {"link": "b"}]
    stands = rearranged(study_fields, rows, [484_000_000, WANTED])
    assert stands == {"a": WANTED, "b": 484_000_000}


def test_one_that_wants_nothing_makes_way(study_fields: dict[str, Any]) -> None:
    rows: list[dict[str, Any]] = [
        {"link": "a", "wanted": 482.5},
        {"link": "b", "windows": "show"},  # not alike: it cannot just exchange
    ]
    stands = rearranged(study_fields, rows, [484_000_000, WANTED])
    assert stands["a"] == WANTED
    assert abs(stands["b"] - WANTED) >= 350_000


@pytest.mark.parametrize(
    ("holder", "stays"),
    [
        ({"wanted": 482.5}, True),  # granted, of equal weight
        ({"wanted": 482.5, "priority": 9}, True),
        ({"wanted": 482.5, "fixed": "yes"}, True),
        ({"wanted": 486.0}, False),
    ],
)
def test_what_is_granted_or_fixed_stays(
    *,
    holder: dict[str, Any],
    stays: bool,
    study_fields: dict[str, Any],
) -> None:
    rows = [
        {"link": "a", "wanted": 482.5, "priority": 2},
        {"link": "b", "windows": "show"} | holder,
    ]
    if stays and "priority" not in holder:
        rows[0]["priority"] = 1
    stands = rearranged(study_fields, rows, [484_000_000, WANTED])
    assert (stands["b"] == WANTED) is stays
    assert (stands["a"] == WANTED) is not stays
    if stays:  # the nearest clear one
        assert abs(stands["a"] - WANTED) == 350_000


def test_the_heavier_takes_the_place_of_the_lighter(study_fields: dict[str, Any]) -> None:
    rows: list[dict[str, Any]] = [
        {"link": "a", "wanted": 482.5, "priority": 5},
        {"link": "b", "wanted": 482.5, "windows": "show"},
    ]
    stands = rearranged(study_fields, rows, [484_000_000, WANTED])
    assert stands["a"] == WANTED
    assert abs(stands["b"] - WANTED) == 350_000


def test_nobody_is_put_off_the_air_for_a_wish(study_fields: dict[str, Any]) -> None:
    # The other can tune nothing but what is wanted: it stays.
    rows: list[dict[str, Any]] = [
        {"link": "a", "wanted": 482.5, "priority": 9},
        {"link": "b", "tuning": "482.5-482.6"},
    ]
    stands = rearranged(study_fields, rows, [484_000_000, WANTED])
    assert set(stands) == {"a", "b"}
    assert stands["a"] != WANTED


def test_being_off_every_wanted_frequency_costs_most() -> None:
    assert wish_costs([1, 2, 3], [], frozenset({2, 9})) == [10, 0, 10]
    assert wish_costs([1, 2, 3], [(1, 1)], frozenset({2})) == [10, 1, 11]
    assert wish_costs([1, 2, 3], [(1, 1)], frozenset({9})) == [0, 1, 1]
    assert wish_costs([1, 2, 3], [], frozenset({9})) == []


CELL = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**30), 10**30),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(
        ["hall", "hand", "show; rehearsal", "471.5", "471,5", "470-480", "20 %", "yes"]
    ),
    st.lists(
        st.one_of(st.floats(), st.text(max_size=5), st.lists(st.integers(), max_size=3)), max_size=3
    ),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)
NAMES = (
    "party",
    "link",
    "count",
    "profile",
    "tuning",
    "zone",
    "windows",
    "priority",
    "wanted",
    "fixed",
    "spares",
)
ROW = st.dictionaries(st.sampled_from(NAMES), CELL)


@settings(
    max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
@given(rows=st.lists(ROW, max_size=4), decimal=st.sampled_from([".", ","]))
def test_any_cell_is_read_or_told(
    rows: list[dict[str, Any]], decimal: str, study_fields: dict[str, Any]
) -> None:
    requests = {"rows": rows, "decimal": decimal, "defaults": {"zone": "hall", "profile": "hand"}}
    try:
        study = sidon.Study.from_dict({**study_fields, "requests": requests})
    except sidon.StudyError as error:
        faults = error.faults
    else:
        assert sidon.Study.from_dict(study.to_dict()) == study
        return
    assert faults
    assert all(fault.place and fault.what and fault.remedy for fault in faults)


@given(text=st.text(st.sampled_from('abz,;\t"\n\r 0.\x00\u2028'), max_size=60))
def test_any_text_is_a_table_or_told(text: str) -> None:
    rows: list[dict[str, Any]] = []
    faults: tuple[sidon.Fault, ...] = ()
    try:
        rows = csv_rows(text, "in.csv")
    except sidon.StudyError as error:
        faults = error.faults
    assert all(fault.place.startswith("in.csv") for fault in faults)
    assert all(isinstance(cell, str) for row in rows for cell in row.values())
