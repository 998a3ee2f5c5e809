"""Windows: margins, midnight, what only touches, and the nights when clocks change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import sidon
from sidon.study.windows import clock_fault

Faults = Callable[[dict[str, Any]], dict[str, sidon.Fault]]
Fields = dict[str, Any]


def windows(fields: Fields, *spans: tuple[str, str], **options: Any) -> Fields:
    rows = [{"name": f"w{i}", "start": a, "end": b, **options} for i, (a, b) in enumerate(spans)]
    row = {"count": 1, "profile": "hand", "zone": "hall"}
    return {
        **fields,
        "windows": rows,
        "incumbents": [],
        "demand": [{**row, "id": w["name"], "windows": [w["name"]]} for w in rows],
        # One frequency for all: allowed only where no two are on the air together.
        "locks": {f"{w['name']}-1": 482.5 for w in rows},
    }


def together(fields: Fields) -> bool:
    found: tuple[sidon.Fault, ...] = ()
    try:
        sidon.Study.from_dict(fields)
    except sidon.StudyError as error:
        found = error.faults
    assert all("contradictory locks" in fault.what for fault in found)
    return bool(found)


def test_windows_that_only_touch_do_not_overlap(study_fields: Fields) -> None:
    first, second = (
        ("2031-05-01T10:00", "2031-05-01T18:00"),
        ("2031-05-01T18:00", "2031-05-01T23:00"),
    )
    assert not together(windows(study_fields, first, second))
    assert together(windows(study_fields, first, ("2031-05-01T17:59", "2031-05-01T23:00")))


def test_a_margin_keeps_the_air_on_both_sides(study_fields: Fields) -> None:
    first, second = (
        ("2031-05-01T10:00", "2031-05-01T18:00"),
        ("2031-05-01T19:00", "2031-05-01T23:00"),
    )
    assert not together(windows(study_fields, first, second, margin="30 min"))
    assert together(windows(study_fields, first, second, margin=31))


def test_a_window_past_midnight(study_fields: Fields, faults_of: Faults) -> None:
    night, morning = (
        ("2031-05-01T20:00", "2031-05-02T01:00"),
        ("2031-05-02T00:30", "2031-05-02T04:00"),
    )
    assert together(windows(study_fields, night, morning))
    faults = faults_of(windows(study_fields, ("2031-05-01T20:00", "2031-05-01T01:00")))
    assert "past midnight, the next date" in faults["windows[0]"].remedy


def test_the_plan_holds_the_times_with_their_margin(study_fields: Fields) -> None:
    fields = windows(study_fields, ("2031-05-01T20:00", "2031-05-01T23:30"), margin="1 h")
    plan = sidon.Study.from_dict({**fields, "timezone": "Europe/Paris"}).plan(iterations=10)
    (window,) = plan.document.windows
    assert (window.start, window.end) == (
        dt.datetime(2031, 5, 1, 19),
        dt.datetime(2031, 5, 2, 0, 30),
    )
    assert window.margin_min == 60
    assert plan.document.timezone == "Europe/Paris"


# In Paris clocks go forward on 2031-03-30 from 02:00 to 03:00 and back on 2031-10-26 from 03:00 to
# 02:00: the last Sundays of March and October (Directive 2000/84/EC).
@pytest.mark.parametrize(
    ("start", "end", "place", "words"),
    [
        ("2031-03-30T02:00", "2031-03-30T06:00", "windows[0].start", "never 02:00"),
        ("2031-03-29T20:00", "2031-03-30T02:59", "windows[0].end", "never 02:59"),
        ("2031-10-25T20:00", "2031-10-26T02:30", "windows[0].end", "twice 02:30"),
    ],
)
def test_hours_left_out_or_repeated_are_told(
    start: str, end: str, place: str, words: str, study_fields: Fields, faults_of: Faults
) -> None:
    fields = windows(study_fields, (start, end))
    faults = faults_of({**fields, "timezone": "Europe/Paris"})
    assert words in faults[place].what
    # Elsewhere, and where no zone is named, the same time is sound.
    sidon.Study.from_dict({**fields, "timezone": "Africa/Nairobi"})
    sidon.Study.from_dict(fields)


def test_a_margin_is_as_long_as_it_says_across_a_change(study_fields: Fields) -> None:
    fields = windows(study_fields, ("2031-03-29T20:00", "2031-03-30T01:45"), margin="90 min")
    plan = sidon.Study.from_dict({**fields, "timezone": "Europe/Paris"}).plan(iterations=10)
    # 01:45 and 15 minutes is 03:00 on the new clock; 75 more make 04:15.
    assert plan.document.windows[0].end == dt.datetime(2031, 3, 30, 4, 15)


def test_a_margin_that_ends_in_a_repeated_hour_is_told(
    study_fields: Fields, faults_of: Faults
) -> None:
    fields = windows(study_fields, ("2031-10-25T20:00", "2031-10-26T01:45"), margin="30 min")
    faults = faults_of({**fields, "timezone": "Europe/Paris"})
    assert "with its margin, it is twice 02:15" in faults["windows[0].end"].what


@given(
    a=st.datetimes(dt.datetime(2031, 1, 1), dt.datetime(2031, 12, 31)),
    b=st.datetimes(dt.datetime(2031, 10, 25), dt.datetime(2031, 10, 27)),
    name=st.sampled_from(
        ["Europe/Paris", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata"]
    ),
)
def test_sound_local_times_order_as_the_instants_they_mean(
    a: dt.datetime, b: dt.datetime, name: str
) -> None:
    from zoneinfo import ZoneInfo

    if clock_fault(a, name) or clock_fault(b, name):
        return
    zone = ZoneInfo(name)
    u, v = (moment.replace(tzinfo=zone).astimezone(dt.UTC) for moment in (a, b))
    assert (a < b) == (u < v)


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        ({"timezone": "Europe/Pariss"}, "timezone", "no time zone"),
        ({"timezone": "../etc/passwd"}, "timezone", "no time zone"),
        ({"timezone": 2}, "timezone", "not text"),
    ],
)
def test_an_unknown_time_zone_is_told(
    change: Fields, place: str, words: str, study_fields: Fields, faults_of: Faults
) -> None:
    faults = faults_of({**study_fields, **change})
    assert words in faults[place].what


@pytest.mark.parametrize("margin", ["half an hour", "", -5, 2000, "25 h", True, 1.5])
def test_a_margin_that_is_none_is_told(
    margin: object, study_fields: Fields, faults_of: Faults
) -> None:
    fields = windows(study_fields, ("2031-05-01T20:00", "2031-05-01T23:30"), margin=margin)
    assert "min" in faults_of(fields)["windows[0].margin"].remedy
