"""Sweeps: every case answered, through any executor, in whatever order they finish."""

from __future__ import annotations

import multiprocessing
import pickle
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import pytest
import sweep_tasks

import sidon
from sidon.demo import study_text
from sidon.sweep import (
    Changes,
    Outcome,
    Variations,
    best,
    cases,
    changed,
    columns,
    sweep,
    unfinished,
)

WHAT_IF: dict[str, Changes] = {
    "as it is": {},
    "channel 29 comes on air": {"availability.occupied+": [29]},
}


@pytest.fixture(scope="module")
def study() -> sidon.Study:
    return sidon.Study.from_toml_text(study_text())


def processes() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn"))


def plans(outcomes: list[Outcome]) -> dict[str, sidon.Plan]:
    found = {row.case.name: row.plan for row in outcomes}
    return {name: plan for name, plan in found.items() if plan is not None}


@pytest.mark.parametrize("pool", [ThreadPoolExecutor, processes])
def test_any_executor_finds_the_plans_of_a_plain_loop(study: sidon.Study, pool: object) -> None:
    assert callable(pool)
    todo = cases(study, vary={"what if": WHAT_IF}, seeds=[1, 2], iterations=5_000)
    here = plans(list(sweep(todo)))
    executor: Executor
    with pool() as executor:
        there = plans(list(sweep(todo, executor=executor)))
    assert len(here) == 4
    assert here == there
    for plan in there.values():
        assert plan.check().hard == 0


def test_a_case_that_fails_does_not_stop_the_others(study: sidon.Study) -> None:
    todo = cases(study, seeds=[1, 2, 3], iterations=500)
    outcomes = list(sweep(todo, task=sweep_tasks.fails_on_seed_two))
    assert [row.error for row in outcomes] == [None, "ValueError: seed two, on purpose", None]
    assert unfinished(outcomes) == []
    table = columns(outcomes)
    assert table["required_served"].tolist()[1] == -1
    assert table["required_served"].tolist()[0] > 0


def test_a_broken_pool_hands_over_what_it_had_and_the_rest_can_be_run_again(
    study: sidon.Study, tmp_path: Path
) -> None:
    marked = changed(study, {"note": str(tmp_path / "killed")})
    todo = cases(marked, seeds=range(5))
    with processes() as pool:
        first = list(sweep(todo, executor=pool, task=sweep_tasks.kills_its_process_once))
    assert len(first) == len(todo)
    again = unfinished(first)
    assert again != []  # the process was killed
    with processes() as pool:
        second = list(sweep(again, executor=pool, task=sweep_tasks.kills_its_process_once))
    seeds = [row.value[0] for row in [*first, *second] if isinstance(row.value, tuple)]
    assert sorted(seeds) == list(range(5))


def test_progress_counts_every_outcome(study: sidon.Study) -> None:
    seen: list[tuple[int, int, str]] = []
    todo = cases(study, seeds=[1, 2], iterations=200)
    for outcome in sweep(todo, progress=lambda *at: seen.append((at[0], at[1], at[2].case.name))):
        assert seen[-1][2] == outcome.case.name
    assert seen == [(1, 2, "seed 1"), (2, 2, "seed 2")]


def test_cases_that_have_not_begun_are_cancelled_when_nobody_asks_any_more(
    study: sidon.Study,
) -> None:
    todo = cases(study, seeds=range(20), iterations=200)
    with ThreadPoolExecutor(1) as pool:
        outcomes = sweep(todo, executor=pool)
        next(outcomes)
        outcomes.close()
        # A pool of one thread ran what it had begun, and none of the rest: a new task is next.
        assert pool.submit(int, "7").result() == 7


@pytest.mark.parametrize("workers", [0, 1])
def test_progress_that_returns_true_ends_the_sweep(study: sidon.Study, workers: int) -> None:
    todo = cases(study, seeds=range(20), iterations=200)
    with ThreadPoolExecutor(1) as pool:
        executor = pool if workers else None
        ended = list(sweep(todo, executor=executor, progress=lambda done, *_: done == 2))
    # Besides the two, what was at work when the end was asked for.
    assert 2 <= len(ended) <= 4
    assert all(row.plan is not None for row in ended)


def test_a_pool_is_handed_no_more_than_it_should_hold(study: sidon.Study) -> None:
    todo = cases(study, seeds=range(6), iterations=100)
    with ThreadPoolExecutor(2) as pool:
        found = list(sweep(todo, executor=pool, ahead=2, progress=lambda done, *_: done == 1))
    # The one that ended it, and at most those in hand.
    assert 1 <= len(found) <= 3
    with ThreadPoolExecutor(2) as pool:
        assert len(list(sweep(todo, executor=pool, ahead=1))) == 6


def test_studies_in_a_list_go_by_their_names(study: sidon.Study) -> None:
    other = changed(study, {"name": "Another (invented)"})
    labels = [case.labels for case in cases([study, other])]
    assert labels == [(("study", study.name),), (("study", "Another (invented)"),)]
    with pytest.raises(sidon.InvalidProblemError, match="two studies are called"):
        cases([study, study])


def test_axes_are_combined_and_the_best_seed_is_kept(study: sidon.Study) -> None:
    vary: Variations = {
        "what if": WHAT_IF,
        "guards": {"as given": {}, "two-tone only": {"profiles.*.guards": {"2A-B": "25 kHz"}}},
    }
    todo = cases({"grounds": study}, vary=vary, seeds=[3, 4], iterations=300)
    assert len(todo) == 8
    assert todo[0].labels == (
        ("study", "grounds"),
        ("what if", "as it is"),
        ("guards", "as given"),
    )
    outcomes = list(sweep(todo))
    kept = best(outcomes)
    assert len(kept) == 4
    table = columns(outcomes)
    assert list(table)[:4] == ["study", "what if", "guards", "seed"]
    for labels, outcome in kept.items():
        rows = [row.plan for row in outcomes if row.case.labels == labels]
        assert outcome.plan is not None
        served = [len(plan.assignments) for plan in rows if plan is not None]
        assert len(outcome.plan.assignments) == max(served)


def test_cases_and_outcomes_pickle(study: sidon.Study) -> None:
    case = cases(study, seeds=[1], iterations=100)[0]
    outcome = next(iter(sweep([case])))
    assert pickle.loads(pickle.dumps(case)) == case
    assert pickle.loads(pickle.dumps(outcome)).plan == outcome.plan


def test_all_faults_of_all_variations_come_in_one_report(study: sidon.Study) -> None:
    vary: Variations = {"what if": {"a": {"profiles.nobody.raster": "25 kHz"}, "b": {"zones": []}}}
    with pytest.raises(sidon.StudyError) as caught:
        cases(study, vary=vary)
    text = str(caught.value)
    assert "no row is named 'nobody'" in text
    assert "b: " in text
    with pytest.raises(sidon.InvalidProblemError) as nothing:
        cases({}, seeds=[], vary={"x": {}})
    assert len(nothing.value.faults) == 3


@pytest.mark.parametrize(
    ("path", "what"),
    [
        ("availability..occupied", "empty part"),
        ("name.first.letter", "inside a single value"),
        ("name+", "cannot be added to"),
        ("profiles.raster", "has no keys"),
    ],
)
def test_a_path_that_leads_nowhere_is_said_to(study: sidon.Study, path: str, what: str) -> None:
    with pytest.raises(sidon.StudyError, match=what):
        changed(study, {path: []})


def test_changes_leave_the_study_and_the_values_alone(study: sidon.Study) -> None:
    before = study.to_dict()
    more = [29]
    wider = changed(study, {"availability.occupied+": more, "locks.vox-2": 509.5, "note": None})
    assert study.to_dict() == before
    assert more == [29]
    assert wider.model.locks["vox-2"] == 509_500_000
    assert wider.model.note == ""
