"""Runs and their answers: options, budgets, results, and DSATUR against other libraries."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import networkx as nx
import numpy as np
import pandas as pd
import polars as pl
import pytest
import rustworkx as rx

import sidon
from sidon import MHz, kHz


def band(count: int = 12) -> sidon.Problem:
    return sidon.Problem.simple(
        range(518 * MHz, 526 * MHz, 25 * kHz),
        count=count,
        separation=350 * kHz,
        guards={"2A-B": 50 * kHz, "A+B-C": 25 * kHz},
    )


def test_a_result_holds_the_plan_and_how_it_was_found() -> None:
    problem = band()
    result = sidon.solve(problem, seed=3, iterations=5_000)
    assert result.seed == 3
    assert result.link_ids == problem.link_ids
    assert result.frequencies.dtype == np.int64
    assert len(result.frequencies) == len(problem)
    assert result.refused == np.count_nonzero(result.frequencies == -1)
    assert result.served == len(problem) - result.refused
    assert result.bound <= result.unserved
    assert result.hard == 0
    assert result.status in ("optimal", "feasible")
    assert result.stop_reason in ("proven", "iteration-limit")
    assert result.evaluations > 0
    assert result.elapsed_s > 0
    assert list(result.assignment) == list(problem.link_ids)
    assert [hz for hz in result.assignment.values() if hz is not None] == [
        hz for hz in result.frequencies.tolist() if hz != -1
    ]


def test_a_result_does_not_change() -> None:
    result = sidon.solve(band(4), method="first-fit")
    with pytest.raises(dataclasses.FrozenInstanceError):
        result.refused = 0  # type: ignore[misc]
    with pytest.raises(ValueError, match="read-only"):
        result.frequencies[0] = 0
    with pytest.raises(ValueError, match="read-only"):
        result.trace["refused"][0] = 0


def test_a_result_prints() -> None:
    result = sidon.solve(band(4), method="first-fit")
    assert repr(result).startswith("Result\n  status: optimal (proven)\n  served: 4 of 4")
    assert "<th>served</th><td>4 of 4</td>" in result._repr_html_()


def test_the_trace_is_a_table(tmp_path: Any) -> None:
    result = sidon.solve(band(), iterations=5_000)
    trace = result.trace
    assert list(trace) == [
        "time_s",
        "iteration",
        "restart",
        "kind",
        "refused",
        "unserved",
        "hard",
        "soft",
        "bound",
        "objective",
        "evaluations",
    ]
    assert len({len(column) for column in trace.values()}) == 1
    assert (np.diff(trace["time_s"]) >= 0).all()
    assert set(trace["kind"]) <= {"restart", "improvement", "progress", "stop"}
    improved = trace["kind"] == "improvement"
    assert trace["refused"][improved].min() == result.refused
    assert pd.DataFrame(trace).shape == pl.DataFrame(trace).shape == (trace.n_rows, 11)
    trace.to_csv(tmp_path / "trace.csv")
    again = pd.read_csv(tmp_path / "trace.csv")
    assert again["refused"].tolist() == trace["refused"].tolist()
    np.testing.assert_array_equal(again["time_s"], trace["time_s"])


@pytest.mark.parametrize("method", ["first-fit", "dsatur", "local-search"])
@pytest.mark.parametrize("objective", ["max-service", "min-interference"])
def test_every_plan_passes_the_check(method: Any, objective: Any) -> None:
    problem = band(30)
    result = sidon.solve(problem, method=method, objective=objective, iterations=2_000, seed=1)
    try:
        report = sidon.check(problem, result)
    except sidon.CheckError as error:
        report = error.report
    assert (report.hard, report.soft, report.refused, report.unserved) == (
        result.hard,
        result.soft,
        result.refused,
        result.unserved,
    )
    if objective == "max-service":
        assert report.hard == 0
    else:
        assert report.refused == 0


def test_an_optimum_is_proved_where_the_bound_is_met() -> None:
    # Optimal Golomb ruler with 6 marks: length 17 (OEIS A003022); distinct differences are what
    # third-order guards of one step ask for.
    problem = sidon.Problem.simple(range(18), count=6, separation=1, guards={"2A-B": 1, "A+B-C": 1})
    result = sidon.solve(problem, seed=1, iterations=200_000)
    assert (result.refused, result.status, result.stop_reason) == (0, "optimal", "proven")
    marks = np.sort(result.frequencies)
    differences = [b - a for i, a in enumerate(marks) for b in marks[i + 1 :]]
    assert len(set(differences)) == 15
    # One step shorter there is no such ruler.
    shorter = sidon.Problem.simple(range(17), count=6, separation=1, guards={"2A-B": 1, "A+B-C": 1})
    assert sidon.solve(shorter, seed=1, iterations=20_000).refused >= 1


def test_with_no_budget_given_a_run_ends_by_itself() -> None:
    assert sidon.solve(band(3)).stop_reason == "proven"


def test_a_time_budget_ends_a_run() -> None:
    result = sidon.solve(band(60), seconds=0.2)
    assert result.stop_reason == "time-limit"
    assert result.elapsed_s >= 0.2


def test_numpy_numbers_are_numbers() -> None:
    result = sidon.solve(
        band(4),
        seed=np.int64(1),  # type: ignore[arg-type]
        iterations=np.uint32(100),  # type: ignore[arg-type]
        seconds=np.float32(1.5),  # type: ignore[arg-type]
        threads=np.int8(1),  # type: ignore[arg-type]
    )
    assert result.refused == 0


@pytest.mark.parametrize(
    ("argument", "value", "word"),
    [
        ("method", "magic", "'first-fit', 'dsatur', 'rlf', 'local-search'"),
        ("method", None, "is not known"),
        ("objective", "best", "'max-service', 'min-interference'"),
        ("seed", -1, "0 to 18446744073709551615"),
        ("seed", 1.0, "whole number"),
        ("seed", 2**64, "whole number"),
        ("iterations", 0, "whole number, 1 to"),
        ("iterations", True, "whole number"),
        ("seconds", 0, "above 0"),
        ("seconds", -1.0, "above 0"),
        ("seconds", float("nan"), "above 0"),
        ("seconds", float("inf"), "above 0"),
        ("seconds", "5", "above 0"),
        ("threads", 0, "1 to 1024"),
        ("threads", 10**6, "1 to 1024"),
        ("progress", 3, "function of one argument"),
    ],
)
def test_bad_arguments_name_the_remedy(argument: str, value: Any, word: str) -> None:
    with pytest.raises(ValueError, match=argument) as caught:
        sidon.solve(band(2), **{argument: value})
    assert isinstance(caught.value, sidon.InvalidProblemError)
    assert [fault.place for fault in caught.value.faults] == [argument]
    assert word in str(caught.value)


def test_all_bad_arguments_come_together() -> None:
    bad: dict[str, Any] = {"method": "magic", "seed": -1, "seconds": -1, "threads": 0}
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.solve(band(2), **bad)
    assert [fault.place for fault in caught.value.faults] == list(bad)


def test_the_face_knows_the_names_that_the_engine_knows() -> None:
    inner = band(2)._inner
    for argument, known in {"method": "Method", "objective": "Objective"}.items():
        options: dict[str, Any] = {"method": "dsatur", "objective": "max-service"}
        options[argument] = "unheard-of"
        with pytest.raises(sidon.InvalidProblemError, match="expected") as caught:
            sidon._engine.solve(
                inner,
                seed=0,
                iterations=1,
                seconds=None,
                threads=1,
                progress=None,
                **options,
            )
        from sidon import _options

        names = getattr(_options, known).__args__
        said = str(caught.value).replace("`", "'")
        assert all(repr(name) in said for name in names)
        assert said.count("'") == 2 * (len(names) + 1)


def test_a_check_takes_results_mappings_and_columns() -> None:
    problem = band(5)
    result = sidon.solve(problem, method="dsatur")
    reports = [
        sidon.check(problem, result),
        sidon.check(problem, result.assignment),
        sidon.check(problem, result.frequencies),
        sidon.check(problem, result.frequencies.tolist()),
        sidon.check(problem, pd.Series(result.frequencies)),
    ]
    assert all(report == reports[0] for report in reports)


def test_a_failed_check_tells_every_violation() -> None:
    problem = sidon.Problem.simple(
        range(470 * MHz, 480 * MHz, 100 * kHz), count=4, separation=350 * kHz, guards={"2A-B": 1}
    )
    plan: dict[str, int | None] = {"0": 470 * MHz, "1": 471 * MHz, "2": 472 * MHz, "3": None}
    with pytest.raises(sidon.CheckError) as caught:
        sidon.check(problem, plan | {"3": 472_050_000})
    kinds = [violation.kind for violation in caught.value.violations]
    assert sorted(kinds) == ["hit", "hit", "off-domain", "separation"]
    assert caught.value.report.hard == 4
    assert "4 hard violations" in str(caught.value)
    assert all(violation.hard and violation.text for violation in caught.value.violations)
    separation = next(v for v in caught.value.violations if v.kind == "separation")
    assert separation.links == (2, 3)


def test_soft_violations_are_reported_and_do_not_fail() -> None:
    problem = sidon.Problem.from_arrays(
        domains=[[1, 2]], link_domain=[0, 0, 0], pairs=([0, 0, 1], [1, 2, 2], [1, 1, 1], [5, 6, 7])
    )
    report = sidon.check(problem, [1, 2, 2])
    assert (report.hard, report.soft) == (0, 7)
    assert [(v.hard, v.cost, v.links) for v in report.violations] == [(False, 7, (1, 2))]
    assert "<li>" in report._repr_html_()


@pytest.mark.parametrize(
    ("frequencies", "place"),
    [
        ([1, 2], "assignment"),
        ({"0": 1, "9": 2, "x": 3}, "frequencies['9']"),
        ([1, float("nan"), 2], "frequencies[1]"),
        (5, "frequencies"),
    ],
)
def test_an_assignment_that_does_not_fit_is_refused(frequencies: Any, place: str) -> None:
    problem = sidon.Problem.simple([1, 2, 3], count=3)
    for call in (sidon.check, lambda p, f: sidon.why_refused(p, f, 0)):
        with pytest.raises(sidon.InvalidProblemError) as caught:
            call(problem, frequencies)
        assert caught.value.faults[0].place == place


def test_why_a_link_was_refused() -> None:
    problem = sidon.Problem.simple(
        [10, 11, 20, 30, 40, 100], count=3, separation=5, guards={"2A-B": 1}
    )
    refusal = sidon.why_refused(problem, [10, 20, None], 2)
    # 10, 11 and 20 are too near; 30 is hit by 2 x 20 - 10; 40 and 100 are clean.
    assert dataclasses.astuple(refusal) == (6, 3, 1, 0, 2)
    assert sidon.why_refused(problem, [10, 20, None], "2") == refusal
    for link in (3, -1, "vox", 1.0):
        with pytest.raises(sidon.InvalidProblemError, match="there is no link"):
            sidon.why_refused(problem, [10, 20, None], link)  # type: ignore[arg-type]


def colours(graph: nx.Graph[int], method: Any) -> list[int]:
    """Colour a graph, as the problem of links that must differ; check that it is proper."""
    n = graph.number_of_nodes()
    edges = np.array(graph.edges, dtype=np.int64).reshape(-1, 2)
    problem = sidon.Problem.from_arrays(
        domains=[range(1, n + 1)],
        link_domain=np.zeros(n, dtype=np.int64),
        pairs=(edges[:, 0], edges[:, 1], np.ones(len(edges), dtype=np.int64)),
    )
    result = sidon.solve(problem, method=method)
    assert sidon.check(problem, result).refused == 0
    colouring: list[int] = result.frequencies.tolist()
    assert all(colouring[a] != colouring[b] for a, b in graph.edges)
    return colouring


BIPARTITE = {
    "path": lambda: nx.path_graph(40),
    "even cycle": lambda: nx.cycle_graph(24),
    "grid": lambda: nx.convert_node_labels_to_integers(nx.grid_2d_graph(7, 9)),
    "hypercube": lambda: nx.convert_node_labels_to_integers(nx.hypercube_graph(6)),
    "crown": lambda: nx.convert_node_labels_to_integers(
        nx.Graph([((0, i), (1, j)) for i in range(12) for j in range(12) if i != j])
    ),
    "random": lambda: nx.convert_node_labels_to_integers(
        nx.bipartite.random_graph(30, 30, 0.2, seed=1)
    ),
}


@pytest.mark.parametrize("name", sorted(BIPARTITE))
def test_dsatur_is_exact_on_bipartite_graphs(name: str) -> None:
    # Brélaz 1979: DSATUR colours every bipartite graph with two colours.
    assert len(set(colours(BIPARTITE[name](), "dsatur"))) == 2


@pytest.mark.parametrize(
    ("make", "chromatic"),
    [
        (lambda: nx.complete_graph(9), 9),
        (lambda: nx.cycle_graph(25), 3),
        (lambda: nx.wheel_graph(12), 4),
        (lambda: nx.petersen_graph(), 3),
        (lambda: nx.complete_multipartite_graph(3, 4, 5, 6), 4),
        (lambda: nx.mycielski_graph(5), 5),
    ],
)
def test_dsatur_on_graphs_of_known_chromatic_number(
    make: Callable[[], nx.Graph[int]], chromatic: int
) -> None:
    # Chromatic numbers from the literature; Mycielski 1955 for the last.
    graph = nx.convert_node_labels_to_integers(make())
    assert len(set(colours(graph, "dsatur"))) == chromatic


@pytest.mark.parametrize("density", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_dsatur_is_in_the_range_of_other_libraries(density: float) -> None:
    ours = theirs_x = theirs_r = 0
    for seed in range(6):
        graph = nx.gnp_random_graph(60, density, seed=seed)
        ours += len(set(colours(graph, "dsatur")))
        theirs_x += len(set(nx.greedy_color(graph, strategy="DSATUR").values()))
        other = rx.PyGraph[None, None]()
        other.add_nodes_from([None] * graph.number_of_nodes())
        other.extend_from_edge_list(list(graph.edges))
        strategy = rx.ColoringStrategy.Saturation
        theirs_r += len(set(rx.graph_greedy_color(other, strategy=strategy).values()))
    # They break ties each in its own way, which is worth a colour now and then.
    low, high = sorted((theirs_x, theirs_r))
    assert 0.9 * low <= ours <= 1.1 * high


def test_an_exact_method_out_of_iterations_says_so() -> None:
    problem = sidon.Problem.simple(range(60), count=9, separation=1, guards={"2A-B": 1, "A+B-C": 1})
    result = sidon.solve(problem, method="branch-and-bound", objective="min-span", iterations=50)
    assert (result.status, result.stop_reason) == ("feasible", "iteration-limit")


@pytest.mark.parametrize("problem", [None, "plan.json", {"links": []}])
def test_what_is_no_problem_is_named(problem: Any) -> None:
    for run in (sidon.solve, lambda it: sidon.check(it, [])):
        with pytest.raises(sidon.InvalidProblemError, match=r"no sidon\.Problem"):
            run(problem)
