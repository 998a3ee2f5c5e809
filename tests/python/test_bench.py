"""Benchmark readers, runner and tables: formats in small, and published files where they are."""

from __future__ import annotations

import csv
import itertools
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sidon
from sidon.bench import FAMILIES, load_family, run
from sidon.bench.__main__ import main
from sidon.bench.instance import Instance, Measure
from sidon.bench.loaders import (
    bandwidth_problem,
    colouring_problem,
    compatible_set_problem,
    fixed_spectrum_problem,
    multicolouring_problem,
    read_dimacs_binary,
    read_graph,
)
from sidon.bench.radio_links import radio_link_problem
from sidon.bench.tables import csv_text, gap_table

PUBLISHED = Path(__file__).resolve().parents[2] / ".." / "shared" / "benchmarks"
published = pytest.mark.skipif(
    not PUBLISHED.is_dir(), reason="the published sets are not beside the repository"
)

TRIANGLE = "c three vertices\np edge 3 4\ne 1 2\ne 2 3\ne 1 3\ne 3 1\n"


def test_a_graph_keeps_each_edge_once(tmp_path: Path) -> None:
    path = tmp_path / "triangle.col"
    path.write_text(TRIANGLE)
    graph = read_graph(path)
    assert graph.edges == {(0, 1): 1, (1, 2): 1, (0, 2): 1}
    result = sidon.solve(
        colouring_problem(graph), objective="min-span", method="branch-and-bound", iterations=10_000
    )
    assert (result.objective, result.status) == (2, "optimal")


def test_binary_graphs_are_the_text_ones(tmp_path: Path) -> None:
    # The triangle and a path, packed by hand: row i holds bits 0..i, most significant first.
    preamble = b"p edge 4 4\n"
    rows = bytes([0b00000000, 0b10000000, 0b11000000, 0b00100000])
    path = tmp_path / "small.col.b"
    path.write_bytes(f"{len(preamble)}\n".encode() + preamble + rows)
    assert sorted(read_dimacs_binary(path).edges) == [(0, 1), (0, 2), (1, 2), (2, 3)]


@pytest.mark.parametrize(
    "text", ["p edge x 1\n", "p edge 2 1\ne 1 3\n", "p edge 2 1\ne 1\n", "p edge\n"]
)
def test_a_line_of_no_format_is_named(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bad.col"
    path.write_text(text)
    with pytest.raises(sidon.UnreadableError, match="line"):
        read_graph(path)


def test_distances_demands_and_loops_count(tmp_path: Path) -> None:
    path = tmp_path / "band.col"
    path.write_text("p band 2 3\nn 1 2\nn 2 1\ne 1 1 3\ne 2 2 3\ne 1 2 2\n")
    graph = read_graph(path)

    def channels(problem: sidon.Problem) -> int:
        result = sidon.solve(problem, objective="min-span", method="portfolio", iterations=5_000)
        assert result.objective is not None
        return result.objective + 1

    # One channel each, 2 apart: 0, 2. Two for the first, 3 apart, and one 2 from both: 0, 2, 4.
    assert channels(bandwidth_problem(graph)) == 3
    assert channels(multicolouring_problem(graph)) == 5


def test_a_fixed_spectrum_counts_its_weights(tmp_path: Path) -> None:
    path = tmp_path / "three.ctr.txt"
    path.write_text(" p band 3 3\n e 0 1 0 5\n e 1 2 1 7\n e 0 2 1 2\n")
    problem = fixed_spectrum_problem(path, 2)
    result = sidon.solve(
        problem, objective="min-interference", method="branch-and-bound", iterations=10_000
    )
    # With channels 0 and 1 every rule of distance 1 is broken: 7 + 2.
    assert (result.objective, result.status) == (9, "optimal")


def test_radio_links_are_exact_apart_and_fixed(tmp_path: Path) -> None:
    (tmp_path / "dom.txt").write_text("0 4 10 20 30 258\n1 4 10 20 30 258\n")
    (tmp_path / "var.txt").write_text("3 1\n7 1 20 0\n9 1\n")
    (tmp_path / "ctr.txt").write_text("3 7 D = 238 0\n7 9 C > 9 1\n3 9 C > 300 4\n")
    files = [tmp_path / f"{name}.txt" for name in ("var", "dom", "ctr")]
    result = sidon.solve(
        radio_link_problem(*files, ask="cost"),
        objective="min-interference",
        method="branch-and-bound",
        iterations=10_000,
    )
    assert result.assignment["7"] == 20
    assert result.assignment["3"] == 258
    # No two frequencies are more than 300 apart: the rule of weight 1 is lost.
    assert (result.hard, result.soft) == (0, 1)
    highest = radio_link_problem(*files, ask="highest")
    assert len(highest) == 4


@pytest.mark.parametrize("guard", [0, 1, 2])
@pytest.mark.parametrize("products", [["2a-b"], ["2a-b", "a+b-c"], ["a+b-c"]])
def test_compatible_sets_follow_their_own_convention(guard: int, products: list[str]) -> None:
    # Against plain enumeration of the convention the set states: inclusive, generators included.
    candidates = [3, 4, 7, 8, 12, 14, 15]

    def compatible(chosen: tuple[int, ...]) -> bool:
        sums = []
        if "2a-b" in products:
            sums += [2 * a - b for a, b in itertools.permutations(chosen, 2)]
        if "a+b-c" in products:
            sums += [a + b - c for a, b, c in itertools.permutations(chosen, 3)]
        return all(abs(product - member) > guard for product in sums for member in chosen)

    problem = compatible_set_problem(candidates, guard, products)
    for size in range(3, 6):
        for chosen in itertools.combinations(candidates, size):
            frequencies = np.full(len(candidates), -1)
            frequencies[:size] = chosen
            try:
                sidon.check(problem, frequencies)
                clean = True
            except sidon.CheckError:
                clean = False
            assert clean == compatible(chosen), chosen


def test_a_run_gives_rows_a_table_and_a_plot(tmp_path: Path) -> None:
    folder = tmp_path / "sets" / "philadelphia"
    folder.mkdir(parents=True)
    cells = {"demand": [2, 2], "separation_matrix": [[5, 2], [2, 5]], "best_known_span": 7}
    (folder / "two.json").write_text(json.dumps(cells))
    out = tmp_path / "out"
    options = ["--seconds", "0.1", "--seeds", "2", "--methods", "dsatur", "portfolio"]
    code = main(["philadelphia", "--path", str(tmp_path / "sets"), "--out", str(out), *options])
    assert code == 0
    with (out / "philadelphia.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["method"], row["seed"]) for row in rows] == [
        ("dsatur", "1"),
        ("dsatur", "2"),
        ("portfolio", "1"),
        ("portfolio", "2"),
    ]
    assert {row["value"] for row in rows if row["method"] == "portfolio"} == {"7"}
    assert all(row["checked"] == "True" for row in rows)
    assert all(row["machine"] and row["commit"] for row in rows)
    assert "| two | portfolio | 7 | 7 |" in (out / "philadelphia.md").read_text(encoding="utf-8")
    assert (out / "philadelphia.png").read_bytes().startswith(b"\x89PNG")


def tiny_sets(tmp_path: Path) -> Path:
    """Write a cellular set and two satisfaction instances, all made up."""
    cells = tmp_path / "sets" / "philadelphia"
    cells.mkdir(parents=True)
    two = {"demand": [2, 2], "separation_matrix": [[5, 2], [2, 5]], "best_known_span": 7}
    (cells / "two.json").write_text(json.dumps(two))
    radio = tmp_path / "sets" / "rlfap_csp"
    radio.mkdir()
    entries = {"t1": {"satisfiable": True}, "t2": {"satisfiable": False}}
    (radio / "status.json").write_text(json.dumps({"instances": entries}))
    for name, domain in [("t1", "0 3 1 3 5"), ("t2", "0 2 1 3")]:
        (radio / f"dom{name}.txt").write_text(f"1\n{domain}\n")
        (radio / f"var{name}.txt").write_text("3\n0 0\n1 0\n2 0\n")
        # Two apart, and more than one from both: 1, 3, 5. With 1 and 3 alone a rule breaks.
        (radio / f"ctr{name}.txt").write_text("3\n0 1 = 2\n1 2 > 1\n0 2 > 1\n")
    return tmp_path / "sets"


def test_several_families_share_a_table_and_the_cores(tmp_path: Path) -> None:
    out = tmp_path / "out"
    options = ["--seconds", "0.1", "--seeds", "1", "--methods", "portfolio", "--jobs", "2"]
    sets = ["--path", str(tiny_sets(tmp_path)), "--out", str(out)]
    assert main(["rlfap", "philadelphia", *sets, *options]) == 0
    table = (out / "families.md").read_text(encoding="utf-8")
    assert "| rlfap | portfolio | 1 | 100 | 100 | 0.00 |" in table
    assert "| philadelphia | portfolio | 1 | 100 | 100 | 0.00 |" in table
    with (out / "rlfap.csv").open(encoding="utf-8") as file:
        # One rule less than all can hold in the second.
        assert [row["value"] for row in csv.DictReader(file)] == ["0", "1"]


def unproved(tmp_path: Path) -> list[Instance]:
    """Make up a cellular set whose bound is below anything that was ever found."""
    draw = np.random.default_rng(0)
    demand, gaps = draw.integers(1, 5, 8), draw.integers(1, 6, (8, 8))
    gaps = np.maximum(gaps, gaps.T)
    np.fill_diagonal(gaps, 5)
    cells = {"demand": demand.tolist(), "separation_matrix": gaps.tolist()}
    folder = tmp_path / "philadelphia"
    folder.mkdir()
    (folder / "eight.json").write_text(json.dumps({**cells, "best_known_span": 70}))
    return list(load_family("philadelphia", tmp_path, "*"))


def test_a_run_may_end_at_the_best_known_value(tmp_path: Path) -> None:
    (curve,) = run(
        "philadelphia",
        unproved(tmp_path),
        methods=["portfolio"],
        seeds=[1],
        seconds=60,
        threads=1,
        to_best_known=True,
    )
    assert curve.row.status == "feasible"
    assert curve.row.elapsed_s < curve.row.seconds
    assert curve.row.value is not None
    assert curve.row.value <= 70 < 2 * curve.row.bound


def test_what_ends_a_run_early_leaves_what_was_run_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    runs = []

    def solve(*arguments: Any, **options: Any) -> sidon.Result:
        runs.append(options["seed"])
        if runs[-1] == 3:
            raise error
        return sidon.solve(*arguments, **options)

    monkeypatch.setattr("sidon.bench.runner.solve", solve)
    sets, out = tiny_sets(tmp_path), tmp_path / "out"
    options = ["--path", str(sets), "--out", str(out), "--methods", "dsatur", "--seconds", "1"]
    errors = {130: KeyboardInterrupt(), 2: RuntimeError("no luck")}
    for code, error in errors.items():  # noqa: B007 - what the function above raises
        runs.clear()
        assert main(["philadelphia", *options, "--seeds", "5"]) == code
        with (out / "philadelphia.csv").open(encoding="utf-8") as file:
            assert [row["seed"] for row in csv.DictReader(file)] == ["1", "2"]
    said = capsys.readouterr().err
    assert "'dsatur'" in said
    assert "no luck" in said
    assert "two, seed 3" in said


def test_a_run_cut_short_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(*arguments: Any, **options: Any) -> sidon.Result:
        return sidon.solve(*arguments, **options | {"progress": lambda _: True, "seconds": 60})

    monkeypatch.setattr("sidon.bench.runner.solve", solve)
    instances, methods = unproved(tmp_path), ["portfolio"]
    with pytest.raises(KeyboardInterrupt):
        list(run("philadelphia", instances, methods=methods, seeds=[1], seconds=60, threads=1))


@pytest.mark.parametrize(
    ("measure", "met", "missed"),
    [
        ("span", {"objective": 5}, {"objective": 6}),
        ("channels", {"objective": 4}, {"objective": 5}),
        ("cost", {"soft": 5}, {"soft": 5, "hard": 1}),
        ("hard", {"hard": 5, "soft": 9}, {"hard": 6}),
        ("served", {"refused": 1}, {"refused": 2}),
        ("order", {}, {"objective": None}),
    ],
)
def test_a_best_plan_meets_the_best_known_value_in_its_measure(
    measure: Measure, met: dict[str, int], missed: dict[str, int]
) -> None:
    problem = sidon.Problem.simple(range(12), count=6, separation=1)
    instance = Instance(
        name="six", problem=problem, objective="min-span", measure=measure, best_known=5
    )
    fields = dict.fromkeys(["iteration", "restart", "refused", "unserved", "hard", "soft"], 0)
    fields |= {"bound": 0, "objective": 5, "evaluations": 0}
    event = sidon.Event(time_s=0.0, kind="improvement", **(fields | met))
    assert instance.is_met(event)
    assert not instance.is_met(sidon.Event(time_s=0.0, kind="improvement", **(fields | missed)))
    assert not replace(instance, best_known=None).is_met(event)


def test_a_total_leaves_runs_out_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sets = ["--path", str(tiny_sets(tmp_path)), "--out", str(tmp_path / "out")]
    options = ["--seconds", "5", "--seeds", "3", "--total-seconds", "1"]
    assert main(["rlfap", *sets, *options]) == 0
    said = capsys.readouterr().err
    assert "24 runs were left out" in said
    assert not (tmp_path / "out").exists()


def test_a_registered_method_runs_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    package = tmp_path / "site"
    info = package / "lowest-1.0.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: lowest\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[sidon.methods]\nlowest = lowest_first:search\n")
    (package / "lowest_first.py").write_text(
        "def search(state, run):\n"
        "    for link in state.free:\n"
        "        state.place(link, int(state.cost(link).argmin()))\n"
        "    run.tick()\n"
    )
    monkeypatch.syspath_prepend(str(package))
    sets = ["--path", str(tiny_sets(tmp_path)), "--out", str(tmp_path / "out")]
    options = ["--seconds", "0.2", "--seeds", "1"]
    assert main(["philadelphia", *sets, *options, "--methods", "lowest"]) == 0
    assert "| two | lowest | 7 |" in capsys.readouterr().out
    assert main(["philadelphia", *sets, *options, "--methods", "highest"]) == 2
    assert "no method is named 'highest'" in capsys.readouterr().err


def test_weights_become_hard_only_where_the_set_says_so(tmp_path: Path) -> None:
    path = tmp_path / "two.ctr.txt"
    path.write_text(" p band 2 1\n e 0 1 0 2000000\n")
    with pytest.raises(sidon.UnreadableError, match="hard_weight"):
        fixed_spectrum_problem(path, 1)
    result = sidon.solve(
        fixed_spectrum_problem(path, 1, hard_weight=2_000_000),
        objective="min-interference",
        iterations=10,
    )
    assert (result.hard, result.soft) == (1, 0)


def test_what_cannot_be_run_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["dimacs", "--path", str(tmp_path)]) == 2
    assert "--path" in capsys.readouterr().err


def test_an_empty_table_has_a_header() -> None:
    assert csv_text([]).startswith("family,instance,method,seed")
    assert gap_table([]).startswith("| instance")


@published
@pytest.mark.parametrize("family", sorted(FAMILIES))
def test_published_sets_load_and_answers_pass_the_check(family: str) -> None:
    instances = itertools.islice(load_family(family, PUBLISHED), 2)
    for curve in run(family, instances, methods=["portfolio"], seeds=[1], seconds=0.2, threads=2):
        row = curve.row
        assert row.checked, row
        if row.value is not None and row.best_known is not None:
            sign = -1 if row.measure == "served" else 1
            assert sign * row.bound <= sign * row.value
            assert sign * row.bound <= sign * row.best_known


@published
def test_published_graphs_have_their_published_sizes() -> None:
    # Distinct edges as counted in the index of the set.
    for name, vertices, edges in [("queen8_8", 64, 728), ("DSJC125.1", 125, 736)]:
        graph = read_graph(PUBLISHED / "dimacs" / "col" / f"{name}.col")
        assert (graph.vertices, len(graph.edges)) == (vertices, edges)
