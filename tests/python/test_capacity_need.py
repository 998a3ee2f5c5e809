"""What is wanted: the worst moment and set of zones, spares, growth; verdicts; what is refused."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from capacity_cases import question

import sidon
from sidon.capacity.case import Found
from sidon.capacity.need import Need, grown, need_of, needs_together, worst
from sidon.capacity.verdict import judge, meanings
from sidon.study.ask import CapacityAsk

Fields = dict[str, Any]
Reader = Callable[[Fields], dict[str, sidon.Fault]]


@pytest.mark.parametrize(
    ("stereo", "mono", "count"),
    # Arithmetic, common practice: two mono mixes share a stereo transmitter.
    [(0, 1, 1), (0, 2, 1), (4, 0, 4), (4, 1, 5), (4, 4, 6), (3, 7, 7), (0, 0, 0)],
)
def test_transmitters_for_in_ear_mixes(stereo: int, mono: int, count: int) -> None:
    assert sidon.in_ear_transmitters(stereo=stereo, mono=mono) == count
    apart = sidon.in_ear_transmitters(stereo=stereo, mono=mono, dual_mono=False)
    assert apart == stereo + mono


@pytest.mark.parametrize("mixes", [{"stereo": -1}, {"mono": 1.5}, {"mono": True}])
def test_mixes_that_are_no_number_are_refused(mixes: dict[str, Any]) -> None:
    with pytest.raises(sidon.InvalidProblemError, match="no number of mixes"):
        sidon.in_ear_transmitters(**mixes)


def two_days(study_fields: Fields) -> Fields:
    """Five links in the hall, seven in the yard, four of these on the first day only."""
    study_fields |= {"locks": {}, "incumbents": []}
    study_fields["demand"] = [
        {"id": "a", "count": 5, "profile": "hand", "zone": "hall", "spares": 2},
        {"id": "b", "count": 3, "profile": "hand", "zone": "yard"},
        {"id": "c", "count": 4, "profile": "hand", "zone": "yard", "windows": ["rehearsal"]},
        {"id": "d", "count": 2, "profile": "hand", "zone": "hall", "windows": ["show"]},
        {"id": "e", "count": 9, "profile": "ears", "zone": "hall"},
    ]
    return study_fields


@pytest.mark.parametrize(
    ("degree", "expected"),
    [
        # One air, by product or only by distance: 5 + 3 + 4 during the rehearsal.
        ("full", (12, 2, ("hall", "yard"))),
        ("separation", (12, 2, ("hall", "yard"))),
        # Two airs: 5 + 2 in the hall at the show against 3 + 4 in the yard at the rehearsal.
        ("none", (7, 2, ("hall",))),
    ],
)
def test_the_worst_moment_of_the_zones_that_share_the_air_counts(
    study_fields: Fields, degree: str, expected: tuple[int, int, tuple[str, ...]]
) -> None:
    fields = two_days(study_fields)
    fields["couplings"][0]["degree"] = degree
    model = sidon.Study.from_dict(fields).model
    required, spares, zones = worst(model, ["hand"])
    assert (required, spares, tuple(sorted(zones))) == expected


def test_of_a_chain_of_zones_only_neighbours_count_together(study_fields: Fields) -> None:
    # a - b - c - d, each reaching the next: the heaviest pair, not the sum.
    fields = two_days(study_fields)
    fields["zones"] = ["a", "b", "c", "d"]
    fields["default_coupling"] = "none"
    fields["couplings"] = [{"zones": list(p), "degree": "full"} for p in ("ab", "bc", "cd")]
    sizes = {"a": 4, "b": 3, "c": 5, "d": 1}
    fields["demand"] = [
        {"id": zone, "count": size, "profile": "hand", "zone": zone} for zone, size in sizes.items()
    ]
    required, _, zones = worst(sidon.Study.from_dict(fields).model, ["hand"])
    assert (required, set(zones)) == (8, {"b", "c"})


@pytest.mark.parametrize(
    ("ask", "later"),
    [
        ({}, 15 + 4),  # a quarter more is assumed; the spares grow along
        ({"growth": "50 %"}, 18 + 5),
        ({"growth": 2}, 14 + 4),
        ({"growth": 0}, 12 + 3),
        ({"rooms": {"count": 2, "carriers": 6}}, 24 + 6),
        ({"growth": "50 %", "spares": 2}, 18 + 2),
        ({"growth": "50 %", "spares": "50 %"}, 18 + 9),
    ],
)
def test_growth_in_carriers_in_percent_or_in_rooms(ask: Fields, later: int) -> None:
    assert grown(12, 3, CapacityAsk(**ask)).later == later


def test_an_ask_without_spares_takes_a_fifth_and_demand_takes_its_own(
    study_fields: Fields,
) -> None:
    model = sidon.Study.from_dict(question(capacity={"ask": 11})).model
    assert need_of(model, ["hand"], in_ears=False).spares == 3
    model = sidon.Study.from_dict(two_days(study_fields)).model
    assert need_of(model, ["hand"], in_ears=False).spares == 2
    fields = two_days(study_fields) | {"capacity": {"spares": "25 %"}}
    assert need_of(sidon.Study.from_dict(fields).model, ["hand"], in_ears=False).spares == 3


@pytest.mark.parametrize(
    ("asked", "spares", "later", "verdict", "why"),
    [
        (5, 1, 7, "comfortable", "1 more than the 7 in 3 years"),
        (5, 1, 8, "comfortable", "exactly the 8 in 3 years"),
        (5, 1, 12, "enough now, too few later", "4 short of the 12 in 3 years, no more than 8"),
        # common practice: asking exactly what fits is tight
        (8, 0, 8, "tight", "exactly 8 fit: nothing is left"),
        (6, 2, 8, "tight", "exactly 8 fit: nothing is left"),
        (8, 2, 12, "tight", "2 spares too many"),
        (9, 0, 9, "too few", "no more than 8 can (by exhaustion)"),
        (0, 0, 0, "nothing asked", "nothing is asked of it"),
    ],
)
def test_verdicts_and_their_reasons(
    asked: int, spares: int, later: int, verdict: str, why: str
) -> None:
    import numpy as np

    found = Found(np.arange(8), 8, "exhaustion")
    need = Need(asked, spares, later - spares, spares)
    assert judge(found, need, 3)[0] == verdict
    assert why in judge(found, need, 3)[1]


def test_too_few_is_said_only_where_it_is_proved() -> None:
    import numpy as np

    found = Found(np.arange(8), 12, "separation")
    verdict, reason = judge(found, Need(10, 0, 10, 0), 3)
    assert verdict == "not found"
    assert "up to 12 are not ruled out (by separation): more time may find them" in reason
    assert judge(found, Need(13, 0, 13, 0), 3)[0] == "too few"
    assert judge(found, Need(5, 1, 11, 1), 3)[0] == "enough now, not found later"
    assert judge(found, Need(5, 1, 12, 1), 3)[0] == "enough now, too few later"


def test_the_verdicts_that_occur_are_explained_and_no_others() -> None:
    told = meanings(["tight", "too few"], 4)
    assert told.startswith("tight: what is asked fits")
    assert "too few: what is asked cannot fit (proved)" in told
    assert "comfortable" not in told
    assert "in 4 years" in meanings(["comfortable"], 4)


def test_two_kinds_are_wanted_together_where_both_are(study_fields: Fields) -> None:
    fields = two_days(study_fields)
    # In one air the yard's seven of the first day come to the hall's five, with nine in-ears.
    fields["couplings"][0]["degree"] = "full"
    model = sidon.Study.from_dict(fields).model
    both = needs_together(model, ["hand"], ["ears"])
    assert both is not None
    assert [(n.asked, n.spares) for n in both] == [(12, 2), (9, 0)]
    # In two airs the in-ears meet the five and two of the hall, during the show.
    fields["couplings"][0]["degree"] = "none"
    model = sidon.Study.from_dict(fields).model
    both = needs_together(model, ["hand"], ["ears"])
    assert both is not None
    assert [(n.asked, n.spares) for n in both] == [(7, 2), (9, 0)]
    # In-ears in the hall and hands in the yard never meet.
    fields["demand"] = [row for row in fields["demand"] if row["id"] in "be"]
    model = sidon.Study.from_dict(fields).model
    assert needs_together(model, ["hand"], ["ears"]) is None


def test_asking_exactly_what_fits_is_tight_in_a_study_too() -> None:
    # Eight fit in the channel: see test_capacity.
    fields = question(capacity={"ask": 8, "spares": 0, "growth": 0})
    found = sidon.Study.from_dict(fields).capacity(iterations=300, what_if=False)
    assert found.rows[0].verdict == "tight"
    assert found.enough
    fields["capacity"]["ask"] = 9
    found = sidon.Study.from_dict(fields).capacity(iterations=300, what_if=False)
    assert found.rows[0].verdict == "too few"
    assert not found.enough


def test_enough_counts_the_spares() -> None:
    # Eight fit in the channel: see test_capacity.
    fields = question(capacity={"ask": 7, "spares": 1, "growth": 0})
    assert sidon.Study.from_dict(fields).capacity(iterations=300, what_if=False).enough
    fields["capacity"]["spares"] = 2
    found = sidon.Study.from_dict(fields).capacity(iterations=300, what_if=False)
    assert found.rows[0].verdict == "tight"
    assert not found.enough


def test_what_is_wrong_with_the_question_is_said_at_once(
    study_fields: Fields, faults_of: Reader
) -> None:
    study_fields["capacity"] = {
        "ask": 12,
        "in_ears": {"stereo": 1},
        "spares": "many",
        "growth": -1,
        "years": 0,
        "channels": [15, 99],
        "waive": ["A+B"],
        "edge_guards": [-1],
        "mixes": [["hand", "feet"], ["ears", "ears"]],
        "rooms": {"count": 1},
        "sparse": 1,
    }
    faults = faults_of(study_fields)
    assert set(faults) == {
        "capacity.ask",
        "capacity.in_ears",
        "capacity.spares",
        "capacity.growth",
        "capacity.years",
        "capacity.channels[1]",
        "capacity.waive[0]",
        "capacity.edge_guards[0]",
        "capacity.mixes[0]",
        "capacity.mixes[1]",
        "capacity.rooms.carriers",
        "capacity.sparse",
    }
    assert faults["capacity.sparse"].remedy == "did you mean 'spares'?"
    assert "demand says already" in faults["capacity.ask"].what


@pytest.mark.parametrize(
    ("ask", "what"),
    [
        ({"ask": 1, "growth": 1, "rooms": {"count": 1, "carriers": 1}}, "given twice"),
        ({"in_ears": {}}, "no mix is asked for"),
        ({"ask": 0}, "0 is less than 1"),
    ],
)
def test_an_ask_that_contradicts_itself_is_refused(ask: Fields, what: str) -> None:
    with pytest.raises(sidon.StudyError, match=what):
        sidon.Study.from_dict(question(capacity=ask))


def test_without_a_number_the_study_is_as_incomplete_as_ever(
    study_fields: Fields, faults_of: Reader
) -> None:
    study_fields["capacity"] = {"years": 5}
    for key in ("demand", "profiles", "zones"):
        del study_fields[key]
    assert {"demand", "profiles", "zones"} <= set(faults_of(study_fields))


def test_dates_stand_in_the_notes() -> None:
    found = sidon.Study.from_dict(question()).capacity(iterations=50, what_if=False)
    assert found.spectrum.as_of == dt.date(2031, 5, 1)
    assert any("invented (2031-05-01)" in note for note in found.notes)
    assert any("estimates, not permissions" in note for note in found.notes)
