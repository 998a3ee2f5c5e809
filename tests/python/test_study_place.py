"""A study with region and stations: what is available follows from the place, and says why."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import sidon
from sidon import MHz
from sidon.demo import stations_text
from sidon.study.availability import free_ranges

CSV = stations_text()
Fields = dict[str, Any]
Reader = Callable[[Fields], dict[str, sidon.Fault]]


@pytest.fixture
def fields(study_fields: Fields) -> Fields:
    """Return the small study, its availability left to region and stations."""
    study_fields["place"] |= {"latitude": 0.0, "longitude": -30.0}
    study_fields["availability"] = {"region": "us", "as_of": "2031-05-01", "source": "invented"}
    # Channel 17, 488-494 MHz, is free; 15 and 19 are blocked.
    study_fields["profiles"][0]["ranges"] = [[470, 512]]
    study_fields["profiles"][1]["ranges"] = [[488, 500]]
    study_fields["locks"] = {"vox-1": "490.5 MHz"}
    return study_fields


@pytest.fixture
def beside(fields: Fields, tmp_path: Path) -> Path:
    """Write the study with its stations beside it."""
    fields["availability"]["stations"] = "stations.csv"
    (tmp_path / "stations.csv").write_text(CSV)
    path = tmp_path / "study.json"
    path.write_text(json.dumps(fields))
    return path


def reasons(study: sidon.Study) -> dict[tuple[float, float], str]:
    return {
        (e.range[0] / MHz, e.range[1] / MHz): e.reason for e in study.model.availability.exclusions
    }


def test_what_is_available_follows_from_the_stations(beside: Path) -> None:
    study = sidon.Study.from_file(beside)
    free = free_ranges(study.model.availability)
    # Half a megahertz is kept from 15 (476-482) and 19 (500-506).
    assert (482_500_000, 499_500_000) in free
    found = reasons(study)
    assert found[475.5, 482.5].startswith("channel 15 blocked: co-channel")
    assert not any(reason.startswith("guard") for reason in found.values())
    assert all(len(reason) <= 80 for reason in found.values())
    # Beside the TV channels, what the region allows without a licence.
    assert (902 * MHz, 928 * MHz) in free
    assert not any(low < 650 * MHz < high for low, high in free)
    plan = study.plan(seed=1, iterations=2_000)
    plan.check()
    assert plan.document.spectrum is not None
    assert plan.document.spectrum.source == "invented"
    # Known by their numbers in plan and picture; 9 lies outside of what is asked for.
    assert {15, 19, 22} <= {row.channel for row in plan.document.spectrum.occupied}
    (fifteen,) = (row for row in plan.document.spectrum.occupied if row.channel == 15)
    assert (fifteen.low_hz, fifteen.high_hz) == (476 * MHz, 482 * MHz)
    taken = [row.frequency_hz for row in plan.assignments if row.profile == "hand"]
    assert taken
    assert not any(475_400_000 < hz < 482_600_000 for hz in taken)


def test_the_report_is_at_hand(beside: Path) -> None:
    report = sidon.Study.from_file(beside).place_report()
    assert report.channel(15).status == "blocked"
    assert str(report.channel(15).as_of) == "2031-05-01"
    assert report.channel(17).status == "usable"


def test_a_study_stands_alone_once_its_files_are_read(beside: Path) -> None:
    study = sidon.Study.from_file(beside)
    (beside.parent / "stations.csv").unlink()
    again = sidon.Study.from_json_text(json.dumps(study.to_dict()))
    assert again == study
    assert again.to_dict() == study.to_dict()
    assert again.model.availability == study.model.availability
    assert pickle.loads(pickle.dumps(study)) == study
    # Written as it was said: the region by name, without the ranges it stands for.
    written = study.to_dict()["availability"]
    assert written["region"] == "us"
    assert written["ranges"] == []
    assert written["exclusions"] == []
    assert "occupied" not in written
    assert len(written["stations"]["rows"]) == 9


def test_stations_may_stand_in_the_study(fields: Fields) -> None:
    row = {"channel": 15, "lat": 0.7, "lon": -30, "erp_kw": 1000, "haat_m": 300}
    fields["availability"]["stations"] = [row | {"service": "digital"}]
    study = sidon.Study.from_dict(fields)
    assert study.place_report().channel(15).status == "blocked"
    assert sidon.Study.from_dict(study.to_dict()) == study
    rows = fields["availability"]["stations"]
    for table in (pd.DataFrame(rows), sidon.read_stations(rows)):
        fields["availability"]["stations"] = table
        assert sidon.Study.from_dict(fields) == study


def test_options_stand_beside_the_name_of_the_file(fields: Fields, tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("ch;lat;lon;power;haat_m\n15;0,7;-30;1000;300\n")
    fields["availability"]["stations"] = {
        "file": "list.csv",
        "columns": {"channel": "ch", "erp": "power"},
        "erp_unit": "kW",
        "service": "digital",
    }
    study = sidon.Study(fields, folder=tmp_path)
    assert study.place_report().channel(15).status == "blocked"
    assert sidon.Study.from_dict(study.to_dict()) == study
    fields["availability"]["stations"]["erp_unit"] = "kWh"
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study(fields, folder=tmp_path)
    assert caught.value.faults[0].place == "availability.stations.erp_unit"


def test_without_stations_a_list_of_occupied_channels_is_needed(
    fields: Fields, faults_of: Reader
) -> None:
    faults = faults_of(fields)
    assert "not checked: there is no list" in faults["profiles[0]"].what
    fields["availability"]["occupied"] = []
    study = sidon.Study.from_dict(fields)
    assert study.place_report().channel(15).status == "usable"
    assert sidon.Study.from_dict(study.to_dict()).place_report().channel(15).status == "usable"
    fields["availability"] |= {"occupied": [16, 18], "edge_guard": 0}
    study = sidon.Study.from_dict(fields)
    assert reasons(study) == {
        (482, 488): "channel 16 blocked: listed as occupied",
        (494, 500): "channel 18 blocked: listed as occupied",
    }


def test_occupied_channels_join_those_of_the_stations(beside: Path, fields: Fields) -> None:
    fields["availability"]["occupied"] = [18]
    beside.write_text(json.dumps(fields))
    report = sidon.Study.from_file(beside).place_report()
    assert report.channel(18).reason == "listed as occupied"
    assert report.channel(17).status == "adjacent"
    assert report.channel(15).status == "blocked"


def test_ranges_of_ones_own_are_cut_to_what_the_region_allows(fields: Fields) -> None:
    fields["availability"] |= {"ranges": [[470, 500], [600, 660], [1435, 1525], [450, 452]]}
    fields["availability"]["occupied"] = []
    study = sidon.Study.from_dict(fields)
    found = reasons(study)
    assert found[608, 614].startswith("not allowed: TV channel 37")
    assert found[617, 652].startswith("not allowed: mobile broadband")
    assert found[653, 657] == "not checked: 600 MHz duplex gap, licensed"
    assert found[1435, 1525] == "not checked: 1435-1525 MHz, licensed"
    assert found[450, 451] == "needs a licence: broadcast auxiliary, 26 to 456 MHz"
    assert found[451, 452] == "not checked: no rule of 'us' covers it"
    assert free_ranges(study.model.availability) == [
        (low * MHz, high * MHz) for low, high in ((470, 500), (600, 608), (614, 616), (657, 660))
    ]
    fields["availability"] |= {"licensed": True, "confirmed": ["1435-1525 MHz, licensed"]}
    free = free_ranges(sidon.Study.from_dict(fields).model.availability)
    assert {(1435 * MHz, 1525 * MHz), (450 * MHz, 451 * MHz)} < set(free)


def test_a_region_of_ones_own_travels_with_the_study(fields: Fields, tmp_path: Path) -> None:
    from test_spectrum_region import OWN

    (tmp_path / "atoll.toml").write_text(OWN)
    fields["availability"] |= {"region": "atoll.toml", "occupied": ["31A"]}
    for profile in fields["profiles"]:
        profile["ranges"] = [[500, 524]]
    fields["locks"] = {}
    fields["incumbents"] = []
    study = sidon.Study(fields, folder=tmp_path)
    assert free_ranges(study.model.availability) == [(500 * MHz, 516 * MHz)]
    assert sidon.Study.from_json_text(json.dumps(study.to_dict())) == study
    fields["availability"]["occupied"] = ["31B", 14, 30, 30]
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study(fields, folder=tmp_path)
    assert [fault.place for fault in caught.value.faults] == [
        f"availability.occupied[{n}]" for n in (0, 1, 3)
    ]


def test_all_faults_of_place_and_files_come_together(fields: Fields, tmp_path: Path) -> None:
    (tmp_path / "stations.csv").write_text(CSV.replace("15,0.70,", "15,north,"))
    (tmp_path / "own.toml").write_text("format = 'sidon-region/1'\nname = 'own'\n")
    fields["availability"] |= {"region": "own.toml", "stations": "stations.csv"}
    fields["nmae"] = 1
    fields["place"]["longitude"] = 200
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study(fields, folder=tmp_path)
    places = [fault.place for fault in caught.value.faults]
    assert places == [
        "own.toml, title",
        "own.toml, caution",
        "stations.csv, line 3, column latitude",
        "place.longitude",
        "nmae",
    ]
    assert caught.value.further


def test_stations_are_checked_against_region_and_place(fields: Fields, tmp_path: Path) -> None:
    text = CSV.replace("East,19", "East,37").replace(
        "West,27,0.10,-31.40,1000", "West,27,0.10,-31.40,1e6"
    )
    (tmp_path / "stations.csv").write_text(text)
    fields["availability"]["stations"] = "stations.csv"
    del fields["place"]["latitude"]
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study(fields, folder=tmp_path)
    faults = {fault.place: fault for fault in caught.value.faults}
    assert set(faults) == {"place.latitude", "stations.csv, line 4", "stations.csv, line 7"}
    fields["place"] |= {"latitude": -30, "longitude": 0}
    (tmp_path / "stations.csv").write_text(CSV)
    with pytest.raises(sidon.StudyError, match="with latitude and longitude swapped") as caught:
        sidon.Study(fields, folder=tmp_path)
    assert [fault.place for fault in caught.value.faults] == ["place.latitude"]


@pytest.mark.parametrize(
    ("change", "place", "what"),
    [
        ({"region": "uk"}, "availability.region", "no region 'uk'"),
        ({"region": 7}, "availability.region", "7 is no region"),
        ({"region": {"file": "x", "data": None}}, "availability.region", "is no region"),
        ({"region": None, "licensed": True}, "availability.licensed", "without a region"),
        ({"region": None, "occupied": ["9A"]}, "availability.occupied[0]", "without a region"),
        ({"region": None}, "availability.ranges", "missing"),
        ({"region": None, "ranges": []}, "availability.ranges", "empty"),
        ({"confirmed": ["dvb"]}, "availability.confirmed[0]", "no entry 'dvb'"),
        ({"indoor": {"measured_dbm": {"99": -90}}}, "availability.indoor.measured_dbm.99", "no ch"),
        ({"region": "ge06", "ranges": [[470, 694]]}, "availability.region", "no band of 'ge06'"),
        ({"stations": []}, "availability.stations", "empty"),
        ({"stations": [{"channel": 1}]}, "availability.stations", "no column says"),
        ({"stations": 7}, "availability.stations", "int is no table of stations"),
        ({"stations": "gone.csv"}, "availability.stations", "no file gone.csv"),
        (
            {"tv_raster": {"first_edge": 470, "width": 6, "first_number": 14, "last_number": 18}},
            "availability.tv_raster",
            "both a region and a raster",
        ),
    ],
)
def test_each_fault_has_its_place(
    fields: Fields, faults_of: Reader, change: Fields, place: str, what: str
) -> None:
    fields["availability"] |= {"occupied": []} | change
    if fields["availability"]["region"] is None:
        del fields["availability"]["region"]
    faults = faults_of(fields)
    assert what in faults[place].what
    assert faults[place].remedy


def test_a_latitude_beyond_the_pole_looks_swapped(fields: Fields, faults_of: Reader) -> None:
    fields["availability"]["occupied"] = []
    fields["place"] |= {"latitude": 122.5, "longitude": 47.5}
    assert "may be swapped" in faults_of(fields)["place.latitude"].remedy


def test_a_licence_is_asked_for_in_words(fields: Fields, faults_of: Reader) -> None:
    fields["availability"] |= {"region": "ge06", "ranges": [[470, 694]], "occupied": []}
    remedy = faults_of(fields)["availability.region"].remedy
    assert "set licensed = true if you hold what it takes for 470-694 MHz" in remedy
    fields["availability"]["licensed"] = True
    assert sidon.Study.from_dict(fields).place_report().channel(21).status == "usable"


def test_indoors_and_propagation_are_options(beside: Path, fields: Fields) -> None:
    fields["availability"] |= {
        "licensed": True,
        "indoor": {"measured_dbm": {"15": -90}},
        "propagation": {"terrain_m": 90},
    }
    beside.write_text(json.dumps(fields))
    study = sidon.Study.from_file(beside)
    report = study.place_report()
    assert report.channel(15).status == "usable"
    # TV is there all the same, and its neighbours keep their guard.
    found = reasons(study)
    assert found[475.5, 476.0] == "guard in channel 14 beside 15"
    assert found[482.0, 482.5] == "guard in channel 16 beside 15"
    assert any("irregularity 90 m" in caution for caution in report.cautions)
    assert sidon.Study.from_dict(study.to_dict()) == study


def test_a_study_without_a_region_has_no_report(study_fields: Fields) -> None:
    with pytest.raises(sidon.StudyError, match="names no region"):
        sidon.Study.from_dict(study_fields).place_report()
