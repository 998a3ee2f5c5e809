"""The call list of a repair: who waits for whom, why, on which equipment; and the moment."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest

import sidon
from sidon import MHz, event

DAYS = [
    {"name": "fri", "start": "2031-06-13T18:00", "end": "2031-06-13T23:00"},
    {"name": "sat", "start": "2031-06-14T12:00", "end": "2031-06-14T23:30"},
]


def two_days(degree: str = "full") -> sidon.Plan:
    """Return a plan of four links over two days and two zones; invented."""
    study = sidon.Study.from_dict(
        {
            "format": "sidon-study/1",
            "name": "Two days (invented)",
            "place": {"name": "Nowhere"},
            "availability": {"ranges": [[470, 473]]},
            "profiles": [
                {
                    "name": name,
                    "ranges": [[470, 473]],
                    "raster": "100 kHz",
                    "bandwidth": 0,
                    "separation": "400 kHz",
                    "guards": {},
                }
                for name in ("hand", "pack")
            ],
            "zones": ["hall", "barn"],
            "couplings": [{"zones": ["hall", "barn"], "degree": degree}],
            "windows": DAYS,
            "demand": [
                {"ids": ["early"], "profile": "hand", "zone": "hall", "windows": ["fri"]},
                {"ids": ["late"], "profile": "hand", "zone": "hall", "windows": ["sat"]},
                {"ids": ["other"], "profile": "hand", "zone": "barn", "windows": ["fri"]},
                {"ids": ["house"], "profile": "hand", "zone": "hall", "party": "House"},
            ],
        }
    )
    fields = study.plan(seed=1, iterations=500).to_dict()
    at = {"early": 470, "late": 471, "other": 472, "house": 473}
    for row in fields["assignments"]:
        row["frequency_hz"] = at[row["link"]] * MHz
    return sidon.Plan.from_dict(fields)


def waits(plan: sidon.Plan, leaver: str, *, windows: list[str], zone: str = "hall") -> bool:
    """Let a link leave and another arrive, for which only the leaver's spot is clear."""
    hz = next(row.frequency_hz for row in plan.assignments if row.link == leaver)
    blocks = [event.Block(f"{low} Hz", f"{high} Hz") for low, high in _around(hz)]
    others = [row.link for row in plan.assignments]
    changes: list[Any] = [event.Leave(others), *blocks]
    repair = plan.repair(*changes, event.Arrive("pack", zone, windows=windows), seconds=1)
    (start,) = [call for call in repair.calls if call.action == "start"]
    assert start.new_hz == hz
    return leaver in start.after


def _around(hz: int) -> list[tuple[int, int]]:
    return [(469 * MHz, hz), (hz, 474 * MHz)]


def test_only_what_overlaps_in_air_and_time_has_to_wait() -> None:
    plan = two_days()
    assert waits(plan, "early", windows=["fri"])
    assert waits(plan, "early", windows=[])
    assert not waits(plan, "early", windows=["sat"])
    assert not waits(plan, "late", windows=["fri"])
    assert waits(plan, "house", windows=["sat"])
    assert waits(plan, "early", windows=["fri"], zone="barn")
    apart = two_days("none")
    assert not waits(apart, "early", windows=["fri"], zone="barn")
    assert waits(apart, "other", windows=["fri"], zone="barn")


def test_other_equipment_is_told_where_the_frequency_stays_and_where_not() -> None:
    plan = two_days()
    stays = plan.repair(event.Swap("house", "pack"))
    assert stays.call_lines() == [
        "hall:",
        "  house: change equipment to pack, stay on 473.000 MHz [House]",
    ]
    goes = plan.repair(event.Swap("house", "pack"), event.Hit("house"))
    (call,) = goes.calls
    assert (call.action, call.equipment, call.why) == ("retune", "pack", "interfered with")
    assert ", change equipment to pack" in goes.summary()


def test_calls_come_by_time_and_zone_with_party_and_reason() -> None:
    plan = two_days()
    repair = plan.repair(event.Block("469.5 MHz", "472.6 MHz"), event.Hit("house"), seconds=1)
    heads = [line for line in repair.call_lines() if not line.startswith(" ")]
    told = [call.link for call in repair.calls]
    assert told[-1] == "late"
    assert heads[0] == "hall:"
    rows = list(csv.DictReader(io.StringIO(repair.calls_csv())))
    assert [row["link"] for row in rows] == told
    assert rows[0]["party"] == "House"
    assert rows[0]["why"] == "interfered with"
    assert rows[-1]["window"] == "sat"
    assert rows[-1]["why"] == "469.500-472.600 MHz: on the air"
    assert {row["from_mhz"] for row in rows} == {f"{n}.000" for n in (470, 471, 472, 473)}


def test_the_reason_names_what_is_in_the_way(small_plan: sidon.Plan) -> None:
    ears = next(row for row in small_plan.assignments if row.link == "ears-1")
    crew = event.Foreign("crew", ears.frequency_hz + 25_000, "hall", "ears")
    repair = small_plan.repair(crew, seconds=1)
    assert next(c for c in repair.calls if c.link == "ears-1").why == "too close to crew"
    channel = small_plan.repair(event.Channel(18), seconds=1)
    # 494 to 500 MHz is all that the ears can tune.
    lost = {c.link for c in channel.calls if c.why == "channel 18 is on the air"}
    assert {"ears-1", "ears-2", "ears-3"} <= lost
    hit = small_plan.repair(event.Hit("vox-2"))
    (call,) = hit.calls
    # By the promise of the spares the link could take any of them.
    assert call.why.startswith("interfered with; its spare vox-spare-")
    assert call.why.endswith(" MHz stays in reserve")


def test_a_time_of_day_alone_will_do_where_one_day_has_it() -> None:
    plan = two_days()
    assert plan.repair(on_air="23:15").on_air == ("house", "late")
    assert plan.repair(on_air="12:30").on_air == plan.repair(on_air="2031-06-14T12:30").on_air
    for text, told in (
        ("20:30", "on 2 days; give the date, too: '2031-06-13T20:30', '2031-06-14T20:30'"),
        ("09:00", "open at 09:00 on no day"),
        ("25:00", "'25:00' is not a date and time"),
    ):
        with pytest.raises(sidon.InvalidProblemError, match=told):
            plan.repair(on_air=text)


def test_what_became_of_wishes_can_be_asked_after_a_repair(small_plan: sidon.Plan) -> None:
    # No module below may take the place of the function of this name.
    small_plan.repair()
    assert event.outcome(small_plan) == []
