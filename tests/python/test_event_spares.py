"""Spares, dedicated and shared: usable at once with the plan, and by any one link they are for."""

from __future__ import annotations

import pickle
from typing import Any

import pytest
from conftest import small_study
from event_cases import broken_by, moved, random_study

import sidon

Fields = dict[str, Any]


def with_shared(fields: Fields, **row: Any) -> Fields:
    return fields | {"spares": [{"id": "any", "profile": "hand", "zone": "hall", "count": 2} | row]}


def test_shared_spares_are_as_strict_as_all_they_stand_in_for() -> None:
    study = sidon.Study.from_dict(with_shared(small_study()))
    assert repr(study).startswith("Study('Small evening': 10 links + 5 spares")
    plan = study.plan(seed=1, iterations=20_000)
    rows = {row.link: row for row in plan.document.assignments}
    assert rows["any-1"].shared
    assert rows["any-1"].spare
    assert not rows["vox-spare-1"].shared
    # The hall has both profiles, and both can tune 494 to 500 MHz: the stricter of each rule.
    cover = next(p for p in plan.document.profiles if p.name == rows["any-1"].profile)
    assert cover.name == "hand (shared spare)"
    assert cover.separation_hz == 400_000
    assert cover.guards_hz == {"2A-B": 100_000, "A+B-C": 25_000}
    # In the yard there are handhelds only: nothing stricter is needed.
    yard = sidon.Study.from_dict(with_shared(small_study(), zone="yard"))
    plan = yard.plan(seed=1, iterations=20_000)
    assert {row.profile for row in plan.assignments if row.link.startswith("any")} == {"hand"}
    assert len(plan.document.profiles) == 2


def test_the_promise_of_shared_spares_holds_by_construction(small_plan: sidon.Plan) -> None:
    plan = sidon.Study.from_dict(with_shared(small_study())).plan(seed=1, iterations=20_000)
    promise = plan.spare_promise()
    assert promise.holds
    assert promise.bare == ()
    shared = [pair for pair in promise.pairs if pair.kind == "shared"]
    assert {pair.link for pair in shared} == {
        *(f"vox-{n}" for n in range(1, 6)),
        *(f"ears-{n}" for n in range(1, 4)),
    }
    assert any(not pair.tunable for pair in shared)  # no ears below 494 MHz
    assert plan.alternatives("vox-3", k=3)[0].spare in {"any-1", "any-2", "vox-spare-1"}
    told = promise.summary()
    assert "The promise holds" in told
    assert "hall: 4 spares serve 8 of 8 links (2 shared)" in told
    table = promise.columns()
    assert table.n_rows == len(promise.pairs) == len(promise.frame())
    assert table["promised"].sum() == sum(pair.promised for pair in promise.pairs)
    assert pickle.loads(pickle.dumps(promise)) == promise
    assert "holds" in promise._repr_html_()
    assert small_plan.spare_promise().holds


@pytest.mark.parametrize("seed", range(30, 36))
def test_every_verdict_is_that_of_the_independent_check(seed: int) -> None:
    foreign = (None, 470_912_500, 472_612_501)[seed % 3]
    fields = random_study(seed, foreign_hz=foreign, links=5)
    fields["spares"] = [
        {"id": "any", "profile": "coarse", "zone": "left", "count": 1},
        {"id": "late", "profile": "fine", "zone": "right", "count": 1, "windows": ["noon"]},
    ]
    plan = sidon.Study.from_dict(fields).plan(seed=seed, iterations=300)
    promise = plan.spare_promise()
    zones = {row.link: row.zone for row in plan.assignments if row.spare}
    assert {(pair.link, pair.spare) for pair in promise.pairs} == {
        (row.link, spare)
        for row in plan.assignments
        for spare, zone in zones.items()
        if not row.spare and row.zone == zone
    }
    for pair in promise.pairs:
        swapped = moved(plan, pair.link, pair.frequency_hz, spare=pair.spare)
        assert pair.clean == (not broken_by(swapped, pair.link))
        if pair.promised:
            assert pair.clean
    assert promise.holds


def test_a_promise_that_is_broken_is_told(small_plan: sidon.Plan) -> None:
    plan = sidon.Study.from_dict(with_shared(small_study())).plan(seed=1, iterations=20_000)
    fields = plan.to_dict()
    # Handhelds tolerate less than was planned for: their own spares still serve, others may not.
    ears = next(profile for profile in fields["profiles"] if profile["name"] == "ears")
    ears["guards_hz"] = {"2A-B": 3_000_000}
    promise = sidon.Plan.from_dict(fields).spare_promise()
    assert not promise.holds
    assert all(pair.promised and not pair.clean for pair in promise.broken)
    assert "The promise is broken" in promise.summary()
    assert f"broken: {promise.broken[0].link} on" in promise.summary()
    assert "broken" in repr(promise)


def test_links_without_a_spare_are_named(small_plan: sidon.Plan) -> None:
    fields = small_study()
    fields["demand"][2]["spares"] = 0
    promise = sidon.Study.from_dict(fields).plan(seed=1, iterations=20_000).spare_promise()
    assert promise.bare == ("ears-1", "ears-2", "ears-3")
    assert "3 required links without a spare:\n  ears-1, ears-2, ears-3" in promise.summary()
    for row in fields["demand"]:
        row["spares"] = 0
    none = sidon.Study.from_dict(fields).plan(seed=1, iterations=20_000).spare_promise()
    assert none.holds
    assert none.summary().startswith("The plan has no spares.")


def test_faults_of_shared_spares_are_found(faults_of: Any) -> None:
    fields = with_shared(small_study(), profile="hnd", zone="hal", windows=["shw"])
    assert {"spares[0].profile", "spares[0].zone", "spares[0].windows"} <= set(faults_of(fields))
    assert "spares[0].count" in faults_of(with_shared(small_study(), count=0))
    assert "spares[0].id" in faults_of(with_shared(small_study(), id="vox"))
    assert "spares[0].preferred[0]" in faults_of(with_shared(small_study(), preferred=[[600, 610]]))
    assert "spares[0].colour" in faults_of(with_shared(small_study(), colour="red"))
    assert "spares" in faults_of(small_study() | {"spares": {"hall": 2}})


def test_studies_with_shared_spares_read_back_what_they_write() -> None:
    study = sidon.Study.from_dict(with_shared(small_study(), preferred=[[482, 488]]))
    assert sidon.Study.from_dict(study.to_dict()) == study
    assert "any" in study._repr_html_()
