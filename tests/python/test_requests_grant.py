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


def test_the_nearest_frequency_is_cleared_of_those_that_want_nothing(
    study_fields: dict[str, Any],
) -> None:
    # An exclusion around the wish: by bandwidth and separation alone 0.6, 0.6 and 0.95 MHz off are
    # the least for three, worked out by hand; links that want nothing stand there.
    spectrum = {"ranges": [[518, 530]], "exclusions": [{"range": [521.5, 522.5], "reason": "x"}]}
    study_fields["availability"] = spectrum
    study_fields["profiles"][0]["ranges"] = [[518, 530]]
    study_fields["profiles"][1]["ranges"] = [[518, 530]]
    rows: list[dict[str, Any]] = [
        {"link": name, "wanted": 522.0, "priority": 9} for name in ("a", "b", "c")
    ]
    rows += [{"link": name, "windows": "show"} for name in ("d", "e", "f")]
    hertz = [524_950_000, 526_000_000, 529_000_000, 521_400_000, 522_600_000, 522_950_000]
    stands = rearranged(study_fields, rows, hertz)
    away = sorted(abs(stands[name] - 522_000_000) for name in ("a", "b", "c"))
    assert away == [600_000, 600_000, 950_000]


@pytest.mark.parametrize(("priority", "leaves"), [(5, True), (1, False)])
def test_only_the_lighter_leaves_a_preferred_range_for_a_nearer_one(
    *, priority: int, leaves: bool, study_fields: dict[str, Any]
) -> None:
    # The wish itself is no candidate; the other can be clear of 482.5 outside what it prefers only.
    rows: list[dict[str, Any]] = [{"link": "a", "wanted": "482.51", "priority": priority}]
    study_fields["requests"] = {"rows": rows, "defaults": {"zone": "hall", "profile": "hand"}}
    for key in ("locks", "incumbents"):
        study_fields.pop(key, None)
    other: dict[str, Any] = {"id": "b", "count": 1, "preferred": [[482.4, 482.6]]}
    other |= {"profile": "hand", "zone": "hall"}
    study_fields["demand"] = [other]
    study = sidon.Study.from_dict(study_fields)
    problem, links = study.problem(), study._compiled.links
    names = [row.id for row in links]
    found = sidon.solve(problem, objective="max-service", iterations=1)
    at = {"a": 484_000_000, names[1 - names.index("a")]: WANTED}
    hertz = np.array([at[name] for name in names], dtype=np.int64)
    start = dataclasses.replace(found, frequencies=hertz)
    stands = grant(links, problem, start).assignment
    assert (stands["a"] == WANTED) is leaves


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
