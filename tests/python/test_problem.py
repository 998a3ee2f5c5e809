"""Problems: made from arrays, written and read back, refused with every fault."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd
import pytest

import sidon
from sidon import MHz, kHz


def fields(**changes: Any) -> dict[str, Any]:
    """Return the fields of a small sound problem, with some of them changed."""
    sound: dict[str, Any] = {
        "profiles": [
            {
                "name": "hand",
                "separation_hz": 350 * kHz,
                "guards": [{"form": "2A-B", "guard_hz": 50 * kHz}],
            }
        ],
        "zones": ["stage", "foyer"],
        "couplings": [{"a": 0, "b": 1, "degree": "separation"}],
        "domains": [
            {
                "raster": {
                    "ranges_hz": [[518 * MHz, 520 * MHz]],
                    "step_hz": 25 * kHz,
                    "origin_hz": 0,
                }
            },
            {"frequencies": [530 * MHz, 531 * MHz]},
        ],
        "links": [
            {"id": "vox 1", "profile": 0, "zone": 0, "domain": 0, "locked_hz": 518 * MHz},
            {"id": "vox 2", "profile": 0, "zone": 1, "domain": 1, "costs": 0, "priority": 3},
        ],
        "costs": [[0, 5]],
        "pairs": [{"a": 0, "b": 1, "relation": {"at_least": MHz}, "weight": {"soft": 2}}],
    }
    return {**sound, **changes}


def test_dictionaries_and_json_go_round() -> None:
    problem = sidon.Problem.from_dict(fields())
    assert problem == sidon.Problem.from_dict(problem.to_dict())
    assert problem == sidon.Problem.from_json(problem.to_json())
    assert problem == sidon.Problem(**fields())
    assert problem.to_dict()["links"][1]["priority"] == 3


def test_problems_compare_by_value() -> None:
    problem = sidon.Problem.from_dict(fields())
    assert problem != sidon.Problem.from_dict(fields(zones=["stage", "yard"]))
    assert problem != "problem"
    with pytest.raises(TypeError, match="unhashable"):
        hash(problem)


def test_arrays_are_welcome_wherever_lists_are() -> None:
    links = fields()["links"]
    links[0]["locked_hz"] = np.int64(518 * MHz)
    problem = sidon.Problem(
        **fields(
            links=tuple(links),
            domains=[
                {
                    "raster": {
                        "ranges_hz": np.array([[518, 520]]) * MHz,
                        "step_hz": np.int32(25_000),
                        "origin_hz": 0,
                    }
                },
                pd.Series([530.0, 531.0]) * MHz,
            ],
            costs=[np.array([0, 5], dtype=np.uint8)],
        )
    )
    assert problem == sidon.Problem.from_dict(fields())


def test_what_a_problem_shows() -> None:
    problem = sidon.Problem.from_dict(fields())
    assert len(problem) == 2
    assert problem.link_ids == ("vox 1", "vox 2")
    assert problem.candidates_hz(1).tolist() == [530 * MHz, 531 * MHz]
    assert len(problem.candidates_hz(0)) == 81
    assert repr(problem) == "Problem(2 links, 1 profile, 2 zones, 2 domains, 1 pair rule)"
    assert "<th>links</th><td>2</td>" in problem._repr_html_()
    for index in (2, -1):
        with pytest.raises(IndexError, match=f"no link {index}: there are 2"):
            problem.candidates_hz(index)


def test_a_problem_does_not_change() -> None:
    problem = sidon.Problem.from_dict(fields())
    with pytest.raises(AttributeError):
        problem.links = []  # type: ignore[attr-defined]
    candidates = problem.candidates_hz(1)
    candidates[0] = 0
    assert problem.candidates_hz(1)[0] == 530 * MHz


def test_columns_make_links() -> None:
    problem = sidon.Problem.from_arrays(
        domains=[[1, 2, 3], np.array([10, 20])],
        link_domain=pd.Series([0, 1, 0]),
        link_ids=["a", "b", "c"],
        link_priority=[1, 2, 3],
        link_locked_hz=[-1, 20, -1],
        separation=1,
        guards={"b+a-c": 2},
        costs=[[0, 1, 2]],
        link_costs=[0, -1, 0],
        pairs=([0, 0], [1, 2], [5, 2], [0, 7]),
        exact_pairs=(np.array([1]), np.array([2]), np.array([17])),
    )
    described = problem.to_dict()
    assert described["links"][1]["locked_hz"] == 20
    assert described["links"][0]["locked_hz"] is None
    assert [link["costs"] for link in described["links"]] == [0, None, 0]
    assert described["profiles"][0]["guards"][0]["form"] == "A+B-C"
    assert [rule["weight"] for rule in described["pairs"]] == ["hard", {"soft": 7}, "hard"]
    assert [rule["relation"] for rule in described["pairs"]] == [
        {"at_least": 5},
        {"at_least": 2},
        {"exactly": 17},
    ]


def test_simple_asks_for_so_many_carriers() -> None:
    problem = sidon.Problem.simple(
        np.arange(518 * MHz, 526 * MHz, 25 * kHz),
        count=3,
        separation="350 kHz",
        guards={"2A-B": 0.05 * MHz},
    )
    described = problem.to_dict()
    assert len(problem) == 3
    assert described["profiles"][0]["separation_hz"] == 350_000
    assert described["profiles"][0]["guards"][0]["guard_hz"] == 50_000


@pytest.mark.parametrize("count", [-1, 1.5, "3", None, True, 10**12])
def test_a_count_is_a_number_of_links(count: Any) -> None:
    with pytest.raises(sidon.InvalidProblemError, match="no number of links"):
        sidon.Problem.simple([1, 2], count=count)


def faults_of(call: Any, **arguments: Any) -> dict[str, sidon.Fault]:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        call(**arguments)
    return {fault.place: fault for fault in caught.value.faults}


def test_faults_of_simple_come_together() -> None:
    faults = faults_of(
        sidon.Problem.simple,
        candidates_hz=[518.125],
        count=1.5,
        separation=-1,
        guards={"2A": 1, "2A-B": "wide"},
    )
    assert list(faults) == [
        "count",
        "candidates_hz[0]",
        "separation",
        "guards['2A']",
        "guards['2A-B']",
    ]


def test_faults_of_columns_come_together() -> None:
    faults = faults_of(
        sidon.Problem.from_arrays,
        domains=[[1]],
        link_domain=[0, 0.5],
        link_priority=["many"],
        pairs=([0], [1]),
        guards=["2A-B"],
    )
    assert list(faults) == ["link_domain[1]", "link_priority[0]", "pairs", "guards"]


def test_indices_out_of_range_are_told_in_the_words_of_the_columns() -> None:
    faults = faults_of(
        sidon.Problem.from_arrays,
        domains=[[1, 2], [3]],
        link_domain=[0, 2, -1, 1],
        link_priority=[1, 0, -5, 2**32],
        costs=[[0, 1]],
        link_costs=[0, -1, 1, -2],
        pairs=([0, 4], [1, -1], [-5, 2], [0, -7]),
        exact_pairs=([9], [0], [1]),
    )
    assert list(faults) == [
        "link_domain[1]",
        "link_domain[2]",
        "link_costs[2]",
        "link_costs[3]",
        "link_priority[1]",
        "link_priority[2]",
        "link_priority[3]",
        "pairs.a[1]",
        "pairs.b[1]",
        "pairs.distance_hz[0]",
        "pairs.weight[1]",
        "exact_pairs.a[0]",
    ]
    assert str(faults["link_domain[2]"]) == (
        "link_domain[2]: -1 is not the index of a domain; there are 2 domains, counted from 0"
    )
    assert faults["link_costs[3]"].remedy == "there is 1 cost table, counted from 0; -1 for none"


def test_a_long_list_of_bad_indices_ends_in_a_count() -> None:
    faults = faults_of(sidon.Problem.from_arrays, domains=[[1]], link_domain=[7] * 1000)
    assert len(faults) == 21
    assert "each of 980 more is not" in faults["link_domain[20...]"].what


@pytest.mark.parametrize("kind", ["pairs", "exact_pairs"])
@pytest.mark.parametrize(
    ("rows", "remedy"),
    [
        ([(0, 1, 5), (1, 2, 5)], "tuple(zip(*rows))"),
        ([[0, 1, 5]] * 5, "tuple(zip(*rows))"),
        (np.array([[0, 1, 5]] * 7), "tuple(zip(*rows))"),
        ([(0, 1), (1, 2), (2, 3), (3, 4), (4, 0)], "(*zip(*edges), distances)"),
        ({(0, 1, 5), (1, 2, 5)}, "tuple(zip(*rows))"),
    ],
)
def test_rows_of_pairs_are_told_how_to_become_columns(kind: str, rows: Any, remedy: str) -> None:
    arguments = {"domains": [[1, 9]], "link_domain": [0] * 5, kind: rows}
    faults = faults_of(sidon.Problem.from_arrays, **arguments)
    assert list(faults) == [kind]
    assert "look like one row per pair" in faults[kind].what
    assert remedy in faults[kind].remedy


def test_rows_of_pairs_that_are_turned_are_columns() -> None:
    rows = [(0, 1, 5), (1, 2, 6), (0, 2, 7), (2, 3, 8), (3, 4, 9)]
    for turned in (tuple(zip(*rows, strict=True)), zip(*rows, strict=True), np.array(rows).T):
        problem = sidon.Problem.from_arrays(
            domains=[[1, 9]],
            link_domain=[0] * 5,
            pairs=turned,  # type: ignore[arg-type]
        )
        found = problem.to_dict()["pairs"]
        assert [(p["a"], p["b"], p["relation"]["at_least"]) for p in found] == rows


def test_columns_of_different_length_are_refused() -> None:
    faults = faults_of(
        sidon.Problem.from_arrays,
        domains=[[1]],
        link_domain=[0, 0],
        link_ids=["a"],
        link_priority=[1, 1, 1],
    )
    assert list(faults) == ["link_ids", "link_priority"]
    faults = faults_of(
        sidon.Problem.from_arrays, domains=[[1]], link_domain=[0, 0], pairs=([0], [1, 1], [1])
    )
    assert list(faults) == ["pairs.b"]


def test_the_engine_finds_every_fault_of_a_whole_problem() -> None:
    changed = fields(zones=["stage", "stage"], domains=[{"frequencies": []}])
    changed["links"][1]["profile"] = 9
    places = faults_of(sidon.Problem.from_dict, fields=changed)
    assert {"zones[1]", "domains[0]", "links[1].profile", "links[1].domain"} <= set(places)


@pytest.mark.parametrize(
    ("change", "place", "why"),
    [
        ({"links": [{"id": 7}]}, "links[0].id", "integer `7`"),
        ({"sone": []}, "sone", "unknown field `sone`"),
        ({"domains": [{"frequencies": [1.5]}]}, "domains[0]", "1.5"),
        ({"domains": [{"list": [1]}]}, "domains[0]", "unknown variant `list`"),
        ({"zones": "stage"}, "zones", "string"),
        ({"pairs": [{"a": -1}]}, "pairs[0].a", "-1"),
        ({"zones": [float("nan")]}, "zones[0]", "expected"),
    ],
)
def test_unreadable_fields_name_their_place(change: Any, place: str, why: str) -> None:
    with pytest.raises(sidon.UnreadableError) as caught:
        sidon.Problem.from_dict(fields(**change))
    assert f"a problem at {place}" in caught.value.what
    assert why in caught.value.why


def test_values_that_json_cannot_hold_are_refused() -> None:
    with pytest.raises(sidon.InvalidProblemError, match="set"):
        sidon.Problem.from_dict(fields(zones={"stage"}))


@pytest.mark.parametrize("cut", [0, 1, 40, -1])
def test_half_written_json_is_refused(cut: int) -> None:
    text = json.dumps(fields())[:cut]
    with pytest.raises(sidon.UnreadableError, match="cannot read a problem"):
        sidon.Problem.from_json(text)


def test_more_than_one_object_is_refused() -> None:
    with pytest.raises(sidon.UnreadableError, match="nothing after it"):
        sidon.Problem.from_json(json.dumps(fields()) + "{}")


def test_every_error_of_the_package_has_one_root() -> None:
    for name in sidon.__all__:
        value = getattr(sidon, name)
        if isinstance(value, type) and issubclass(value, Exception):
            assert issubclass(value, sidon.SidonError), name
