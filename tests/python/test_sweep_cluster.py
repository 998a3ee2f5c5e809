"""A sweep on a real cluster of two worker processes, one of which is killed in mid-sweep."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import distributed
import pytest
import sweep_tasks

import sidon
from sidon.demo import study_text
from sidon.sweep import cases, changed, sweep

# What a worker that dies makes its cluster say is not ours to mend.
pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture(scope="module")
def client() -> Iterator[distributed.Client]:
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        client.upload_file(sweep_tasks.__file__)
        yield client


def test_plans_are_those_of_a_plain_loop(client: distributed.Client) -> None:
    study = sidon.Study.from_toml_text(study_text())
    todo = cases(study, seeds=range(4), iterations=2_000)
    here = {row.case.seed: row.plan for row in sweep(todo)}
    there = {row.case.seed: row.plan for row in sweep(todo, executor=client)}
    assert here == there


def test_a_killed_worker_loses_no_result(client: distributed.Client, tmp_path: Path) -> None:
    study = changed(sidon.Study.from_toml_text(study_text()), {"note": str(tmp_path / "killed")})
    todo = cases(study, seeds=range(12))
    seen = []
    outcomes = []
    for outcome in sweep(
        todo,
        executor=client.get_executor(),
        task=sweep_tasks.kills_its_process_once,
        progress=lambda done, total, _: seen.append((done, total)),
    ):
        outcomes.append(outcome)
    assert (tmp_path / "killed").exists()  # the worker was killed
    assert [row.error for row in outcomes] == [None] * 12
    values = [row.value for row in outcomes if isinstance(row.value, tuple)]
    assert sorted(seed for seed, _ in values) == list(range(12))
    assert seen == [(n, 12) for n in range(1, 13)]
