"""Explanations: conflicts that are real and small, and gains that a checked plan shows."""

from __future__ import annotations

import json
import pickle
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.cli import main
from sidon.event.explain import explain, find_conflict
from sidon.event.explain.fits import Effort, fits
from sidon.event.explain.rules import part, rules_of
from sidon.sweep import changed

ITERATIONS = 1_500


def mapping(**changes: Any) -> dict[str, Any]:
    """Two rooms with thin air, invented: nine vocals fit in neither of these ranges."""
    study: dict[str, Any] = {
        "format": "sidon-study/1",
        "name": "Two rooms (invented)",
        "place": {"name": "House (invented)"},
        "availability": {"ranges": [[470, 476]]},
        "zones": ["hall", "foyer"],
        "default_coupling": "separation",
        "profiles": [
            {
                "name": "handheld",
                "ranges": [[470, 476]],
                "raster": "25 kHz",
                "bandwidth": "0 kHz",
                "separation": "350 kHz",
                "guards": {"2A-B": "100 kHz", "A+B-C": "100 kHz"},
            },
            {
                "name": "pack",
                "ranges": [[470, 476]],
                "raster": "25 kHz",
                "bandwidth": "0 kHz",
                "separation": "350 kHz",
            },
        ],
        "demand": [
            {"id": "vox", "count": 10, "profile": "handheld", "zone": "hall"},
            {"id": "pack", "count": 2, "profile": "pack", "zone": "foyer"},
        ],
    }
    return study | changes


@pytest.fixture(scope="module")
def study() -> sidon.Study:
    return sidon.Study.from_dict(mapping())


def test_a_conflict_is_proved_and_smallest(study: sidon.Study) -> None:
    # Exhaustive search: with these distances 9 carriers need 238 steps of 25 kHz, 10 need more
    # than the 240 there are.
    refused = [study.link_ids.index("vox-10")]
    effort = Effort(iterations=ITERATIONS)
    conflict = find_conflict(study.compiled, refused, effort)
    assert conflict is not None
    assert conflict.smallest
    assert {group.profile for group in conflict.groups} == {"handheld"}
    assert conflict.size in (9, 10)  # nine fit in theory; the short search here may miss it
    forms = {rule.form for rule in conflict.rules}
    assert "A+B-C" in forms
    links = list(range(conflict.size))
    assert fits(study.compiled, links, effort) != "fits"
    for rule in conflict.rules:
        assert fits(study.compiled, links, effort, [rule]) == "fits", rule.text


def test_too_many_for_the_separation_alone_is_proved() -> None:
    crowd = mapping(demand=[{"id": "pack", "count": 19, "profile": "pack", "zone": "foyer"}])
    compiled = sidon.Study.from_dict(crowd).compiled
    # 241 raster positions, 14 steps apart: 18 carriers and no more.
    assert fits(compiled, list(range(18)), Effort(iterations=ITERATIONS)) == "fits"
    conflict = find_conflict(compiled, [18], Effort(iterations=ITERATIONS))
    assert conflict is not None
    assert conflict.proved
    assert conflict.size == 19
    assert [rule.kind for rule in conflict.rules] == ["separation"]
    assert "proved by a bound" in conflict.text
    assert "19 pack in foyer: such as pack-1 to pack-19" in conflict.text


def test_links_that_fit_have_no_conflict(study: sidon.Study) -> None:
    few = sidon.Study.from_dict(
        mapping(demand=[{"id": "vox", "count": 3, "profile": "handheld", "zone": "hall"}])
    )
    assert find_conflict(few.compiled, [0], Effort(iterations=ITERATIONS)) is None
    assert find_conflict(study.compiled, [], Effort()) is None
    explained = explain(few, iterations=ITERATIONS)
    assert explained.text == "Everything fits; there is nothing to explain."


def test_a_part_of_a_study_drops_only_what_it_is_told_to(study: sidon.Study) -> None:
    rules = rules_of(study.compiled, range(12))
    coupling = next(rule for rule in rules if rule.kind == "coupling")
    problem = part(study.compiled, [0, 10])
    assert problem.link_ids == ("vox-1", "pack-1")
    near = [470_000_000, 470_100_000]
    assert sidon.check(problem, [470_000_000, 475_000_000]).hard == 0
    with pytest.raises(sidon.CheckError):
        sidon.check(problem, near)
    assert sidon.check(part(study.compiled, [0, 10], [coupling]), near).hard == 0


@pytest.mark.parametrize("workers", [0, 2])
def test_every_gain_is_shown_by_a_plan_that_keeps_the_rest(
    study: sidon.Study, workers: int
) -> None:
    with ThreadPoolExecutor(2) as pool:
        explained = explain(
            study, iterations=ITERATIONS, threads=1, executor=pool if workers else None
        )
    assert explained.missing >= 1
    best = explained.bought[0]
    assert best.required >= 1
    assert "A+B-C" in best.relaxation.text
    gains = [(row.required, row.spares) for row in explained.bought]
    assert gains == sorted(gains, reverse=True)
    for row in explained.bought:
        assert (row.plan is None) == (row.required == row.spares == 0)
        if row.plan is not None:
            assert row.plan.check().hard == 0
            assert len(row.plan.missing) == row.missing == explained.missing - row.required
    table = explained.columns()
    assert table["required"].tolist() == [required for required, _ in gains]
    assert pickle.loads(pickle.dumps(explained)) == explained
    assert "cannot hold together" in explained.text or "No plan was found" in explained.text
    assert "once a test on site" in explained.text


def test_the_same_seed_gives_the_same_explanation(study: sidon.Study) -> None:
    texts = {explain(study, iterations=500, threads=n, seed=3).text for n in (1, 2)}
    assert len(texts) == 1


def test_spectrum_that_others_hold_is_named_as_such() -> None:
    availability = {
        "ranges": [[470, 482]],
        "tv_raster": {"first_edge": 470, "width": 6, "first_number": 14, "last_number": 15},
        "occupied": [15],
        "edge_guard": 0.5,
        "exclusions": [{"range": [471, 472], "reason": "house link (invented)"}],
    }
    profiles = mapping()["profiles"]
    profiles[0]["ranges"] = [[470, 482]]
    study = sidon.Study.from_dict(mapping(availability=availability, profiles=profiles))
    explained = explain(study, iterations=ITERATIONS)
    named = {row.relaxation.text: row.relaxation.condition for row in explained.bought}
    assert "not yours to decide" in named["use channel 15, should it be off the air after all"]
    assert "not yours to decide" in named["lift the exclusion of house link (invented)"]
    assert "yours to accept" in named["go up to the edges of occupied channels (500 kHz nearer)"]


def test_the_command_explains_and_writes_a_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, table = tmp_path / "rooms.json", tmp_path / "relaxations.csv"
    plan = tmp_path / "plan.json"
    study = sidon.Study.from_dict(mapping())
    path.write_text(json.dumps(study.to_dict()), encoding="utf-8")
    assert main(f"plan {path} --out {plan} --iterations 1500 --quiet".split()) == 1
    capsys.readouterr()
    code = main(f"explain {path} --plan {plan} --iterations 1500 --csv {table}".split())
    shown = capsys.readouterr()
    assert code == 1
    assert "What would help" in shown.out
    assert "planning the study" not in shown.err
    assert table.read_text(encoding="utf-8").startswith("relaxation,required,spares,missing")


def test_a_plan_of_another_study_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, plan = tmp_path / "rooms.json", tmp_path / "plan.json"
    path.write_text(json.dumps(mapping()), encoding="utf-8")
    few = mapping(demand=[{"id": "x", "count": 3, "profile": "handheld", "zone": "hall"}])
    sidon.Study.from_dict(few).plan(iterations=100).to_json(plan)
    assert main(f"explain {path} --plan {plan} --csv {plan}".split()) == 2
    text = capsys.readouterr().err
    assert "answers another study" in text
    assert "same file" in text


def test_a_plan_begins_with_another(study: sidon.Study) -> None:
    first = study.plan(seed=1, iterations=ITERATIONS)
    again = study.plan(seed=2, iterations=1, start=first)
    assert len(again.assignments) >= len(first.assignments)
    # What is taken off the air is not begun with, and the rest stays.
    gone = first.assignments[0].frequency_hz
    away = {"range": [f"{gone - 1} Hz", f"{gone + 1} Hz"], "reason": "hit (invented)"}
    narrower = changed(study, {"availability.exclusions": [away]})
    mended = narrower.plan(seed=1, iterations=ITERATIONS, start=first)
    assert gone not in [row.frequency_hz for row in mended.assignments]
    assert mended.check().hard == 0
