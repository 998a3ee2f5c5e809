"""Isolation between zones: the model, the thresholds, and what a study and a plan make of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

import sidon
from sidon.study.isolation import Isolation, Link, distance_m, free_space_db

Faults = Callable[[dict[str, Any]], dict[str, sidon.Fault]]
Fields = dict[str, Any]


def three_zones(fields: Fields, **changes: Any) -> Fields:
    fields["zones"] = [
        {"name": "hall", "position_m": [0, 0], "radius_m": 20},
        {"name": "yard", "position_m": [150, 0], "radius_m": 30},
        {"name": "hill", "position_m": [0, 40_000]},
    ]
    fields["couplings"] = []
    return {**fields, "isolation": {}, **changes}


def degrees(fields: Fields) -> dict[tuple[str, str], str]:
    study = sidon.Study.from_dict(fields)
    problem = study.problem().to_dict()
    names = problem["zones"]
    return {(names[c["a"]], names[c["b"]]): c["degree"] for c in problem["couplings"]}


@pytest.mark.parametrize(
    ("metres", "megahertz", "loss"),
    # Friis: 20 log10(4 pi d f / c), worked by hand with c = 299,792,458 m/s.
    [(1, 600, 28.01), (2, 600, 34.03), (5, 600, 41.99), (30, 600, 57.55), (1, 550, 27.25)],
)
def test_free_space(metres: float, megahertz: int, loss: float) -> None:
    assert free_space_db(metres, megahertz * 10**6) == pytest.approx(loss, abs=0.006)


def test_log_distance_against_a_worked_value() -> None:
    # n = 2.5, 1 m reference at 600 MHz (28.01 dB), 30 m: 28.01 + 25 log10(30) = 64.94 dB.
    model = Isolation(exponent=2.5, body_db=0)
    assert model.loss_db(Link(30), 600_000_000) == pytest.approx(64.94, abs=0.01)
    walled = model.loss_db(Link(30, walls=2), 600_000_000)
    assert walled == pytest.approx(64.94 + 2 * 5, abs=0.01)
    # In free space it is Friis at any distance.
    free = Isolation(body_db=0).loss_db(Link(700), 474_000_000)
    assert free == pytest.approx(free_space_db(700, 474_000_000))


def test_defaults_follow_from_levels() -> None:
    model = Isolation()
    # 10 mW are 10 dBm; kTB of 200 kHz with a noise figure of 5 dB is -116 dBm, and 15 dB above
    # that -101 dBm, the usual sensitivity.
    noise = -173.975 + 10 * math.log10(200_000) + 5
    assert noise + 15 == pytest.approx(model.unnoticed_dbm, abs=1.1)
    # Products of two transmitters of equal power at 1 m: path loss, then 10 dB of conversion loss.
    at_one_metre = free_space_db(1, 600_000_000) + 10
    at_a_hand = free_space_db(0.3, 600_000_000) + 10
    assert at_a_hand < model.products_below_db < at_one_metre
    assert model.thresholds_db == (80, 110)


def test_isolation_grows_with_everything_that_hinders() -> None:
    hertz, base = 500_000_000, Link(100, 1)
    model = Isolation()
    assert model.isolation_db(Link(101, 1), hertz) > model.isolation_db(base, hertz)
    assert model.isolation_db(Link(100, 2), hertz) > model.isolation_db(base, hertz)
    assert Isolation(exponent=3).isolation_db(base, hertz) > model.isolation_db(base, hertz)
    assert Isolation(body_db=8).isolation_db(base, hertz) > model.isolation_db(base, hertz)
    assert model.isolation_db(base, 2 * hertz) > model.isolation_db(base, hertz)
    assert model.isolation_db(Link(0), hertz) >= 0


def test_distance_is_from_edge_to_edge() -> None:
    assert distance_m((0, 0), (30, 40)) == 50
    assert distance_m((0, 0), (30, 40), radius_a=10, radius_b=15) == 25
    assert distance_m((0, 0), (30, 40), radius_a=30, radius_b=30) == 0


def test_positions_give_the_degrees(study_fields: Fields) -> None:
    # Hall and yard, 100 m of free space: near 66 dB + 3 - 10. The hill: 118 + 3 - 10 dB.
    assert degrees(three_zones(study_fields)) == {
        ("hall", "yard"): "full",
        ("hall", "hill"): "none",
        ("yard", "hill"): "none",
    }


@pytest.mark.parametrize(
    ("coupling", "degree"),
    [
        ({"isolation_db": 79.9}, "full"),
        ({"isolation_db": 80}, "separation"),
        ({"isolation_db": 110}, "none"),
        ({"distance_m": 2_000}, "separation"),
        ({"walls": 5}, "separation"),
        ({"degree": "none", "isolation_db": 3}, "none"),  # what is said outright wins
        ({"degree": "full", "distance_m": 90_000}, "full"),
    ],
)
def test_what_is_given_for_a_pair_wins_over_positions(
    coupling: Fields, degree: str, study_fields: Fields
) -> None:
    pair = {"zones": ["yard", "hall"], **coupling}
    fields = three_zones(study_fields, couplings=[pair])
    assert degrees(fields)["hall", "yard"] == degree


def test_without_isolation_the_default_holds(study_fields: Fields) -> None:
    fields = three_zones(study_fields)
    del fields["zones"][2]["position_m"]
    fields["default_coupling"] = "separation"
    assert degrees(fields)["yard", "hill"] == "separation"


def test_the_plan_says_what_its_degrees_rest_on(study_fields: Fields) -> None:
    fields = three_zones(study_fields)
    fields["couplings"] = [{"zones": ["hall", "yard"], "isolation_db": 83.5}]
    fields["isolation"] = {"exponent": 2.2, "wall_db": 6}
    plan = sidon.Study.from_dict(fields).plan(seed=1, iterations=2_000)
    kept = plan.document.isolation
    assert kept is not None
    assert {(row.degree, row.basis) for row in kept.pairs} == {
        ("separation", "isolation given"),
        ("none", "computed: 39980 m"),
        ("none", "computed: 39970 m"),
    }
    text = plan.summary()
    assert "pairs coordinated 0 full, 1 separation only, 2 none" in text
    assert "exponent 2.2, wall 6 dB, body 3 dB, less a margin of 10 dB" in text
    assert "near a limit: hall and yard, 83.5 dB (isolation given)" in text
    assert any("computed from distances and walls" in line for line in plan.document.caution)
    assert sidon.Plan.from_dict(plan.to_dict()) == plan


def test_where_all_is_given_nothing_is_said(small_plan: sidon.Plan) -> None:
    assert small_plan.document.isolation is None
    assert "Zones:" not in small_plan.summary()
    assert not any("computed" in line for line in small_plan.document.caution)


def test_frequencies_are_used_again_behind_enough_isolation(study_fields: Fields) -> None:
    fields = three_zones(study_fields)
    fields["incumbents"] = []
    row = {"count": 1, "profile": "hand", "id": "x"}
    fields["demand"] = [{**row, "zone": "hall", "id": "here"}, {**row, "zone": "hill", "id": "far"}]
    fields["locks"] = {"here-1": 482.5, "far-1": 482.5}
    plan = sidon.Study.from_dict(fields).plan(seed=1, iterations=100)
    assert [row.frequency_hz for row in plan.assignments] == [482_500_000] * 2
    # Behind less they may not: two locks on one frequency that share the air.
    fields["zones"][2]["position_m"] = [0, 400]
    with pytest.raises(sidon.StudyError, match="contradictory locks"):
        sidon.Study.from_dict(fields)


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        ({"couplings": [{"zones": ["hall", "yard"]}]}, "couplings[0]", "neither degree"),
        ({"isolation": {"exponent": 0.5}}, "isolation.exponent", "less than 1"),
        ({"isolation": {"wall_db": -1}}, "isolation.wall_db", "less than 0"),
        ({"isolation": {"walls_db": 5}}, "isolation.walls_db", "unknown"),
        ({"isolation": {"wall_db": float("nan")}}, "isolation.wall_db", "not a number"),
        ({"isolation": {"separation_from_db": 120}}, "isolation", "before products end"),
        ({"isolation": None}, "zones", "nothing is computed"),
        (
            {"couplings": [{"zones": ["hall", "moon"], "isolation_db": 3}]},
            "couplings[0].zones",
            "moon",
        ),
        (
            {"isolation": None, "couplings": [{"zones": ["hall", "yard"], "walls": 2}]},
            "couplings[0].walls",
            "no distance",
        ),
    ],
)
def test_faults(
    change: Fields, place: str, words: str, study_fields: Fields, faults_of: Faults
) -> None:
    faults = faults_of(three_zones(study_fields, **change))
    assert words in faults[place].what
    assert faults[place].remedy
