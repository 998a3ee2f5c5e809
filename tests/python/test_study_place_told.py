"""What a study says of its place reaches plan and report; its faults do not hide or shift."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.cli import main
from sidon.demo import stations_text
from sidon.view.place import place as place_picture

HEAD = "name,channel,latitude,longitude,erp_kw,haat_m,service"


@pytest.fixture
def fields(tmp_path: Path) -> dict[str, Any]:
    """Return a study of an invented raft, its stations beside it."""
    (tmp_path / "stations.csv").write_text(stations_text())
    return {
        "format": "sidon-study/1",
        "name": "Raft (invented)",
        "place": {"name": "Raft (invented)", "latitude": 0.0, "longitude": -30.0},
        "availability": {
            "region": "us",
            "stations": "stations.csv",
            "as_of": "2031-05-01",
            "source": "invented",
        },
        "zones": ["deck"],
        "profiles": [{"name": "hand", "class": "narrow-analogue", "ranges": [[470, 512]]}],
        "demand": [{"id": "vox", "count": 2, "profile": "hand", "zone": "deck"}],
    }


def faults(fields: dict[str, Any], folder: Path) -> dict[str, sidon.Fault]:
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study(fields, folder=folder)
    return {fault.place: fault for fault in caught.value.faults}


def test_a_plan_says_on_what_it_rests(fields: dict[str, Any], tmp_path: Path) -> None:
    plan = sidon.Study(fields, folder=tmp_path).plan(seed=1, iterations=500)
    text = " ".join(plan.document.caution)
    assert "Estimates, not permissions" in text
    assert "fields of 9 stations (invented) by Longley-Rice area mode" in text
    assert "of 2031-05-01: such lists go stale" in text
    assert "470-512 MHz for land mobile" in text
    assert "Hawaii" in text
    assert "TV channels, unlicensed: 50 mW EIRP" in text
    assert "Wider than" not in text
    fields["profiles"][0] = {"name": "wide", "class": "wide-digital", "ranges": [[614, 660]]}
    fields["profiles"].append({"name": "tv", "class": "wide-digital", "ranges": [[470, 512]]})
    fields["demand"][0]["profile"] = "wide"
    fields["demand"].append({"id": "tv", "count": 1, "profile": "tv", "zone": "deck"})
    text = " ".join(sidon.Study(fields, folder=tmp_path).plan(iterations=500).document.caution)
    assert "20 mW EIRP" in text
    assert "Wider than the 200 kHz that 'TV channels, unlicensed' allows: tv (400 kHz)" in text


def test_a_plan_that_leans_on_a_doubtful_measurement_says_so(
    fields: dict[str, Any], tmp_path: Path
) -> None:
    fields["availability"] |= {"licensed": True, "indoor": {"measured_dbm": {"15": -120}}}
    plan = sidon.Study(fields, folder=tmp_path).plan(seed=1, iterations=500)
    text = " ".join(plan.document.caution)
    assert "more than 30 dB apart on 15 (-120" in text
    assert "antennas turned to maximum" in text


def test_a_plan_without_a_region_says_nothing_of_it(study_fields: dict[str, Any]) -> None:
    plan = sidon.Study.from_dict(study_fields).plan(iterations=500)
    assert not any("region" in caution for caution in plan.document.caution)


def test_a_table_may_be_said_to_cover_a_band(fields: dict[str, Any], tmp_path: Path) -> None:
    report = sidon.Study(fields, folder=tmp_path).place_report()
    assert report.channel(3).status == "not checked"
    fields["availability"]["stations"] = {"file": "stations.csv", "covers": ["VHF low"]}
    study = sidon.Study(fields, folder=tmp_path)
    assert study.place_report().channel(3).status == "usable"
    assert sidon.Study.from_json_text(json.dumps(study.to_dict())) == study
    fields["availability"]["stations"]["covers"] = ["VHF lo"]
    fault = faults(fields, tmp_path)["availability.stations.covers[0]"]
    assert fault.remedy == "did you mean 'VHF low'?"


def test_columns_that_are_not_read_are_named(fields: dict[str, Any], tmp_path: Path) -> None:
    table = f"{HEAD},colour\nA,15,0.7,-30,1000,300,digital,red\n"
    (tmp_path / "stations.csv").write_text(table)
    study = sidon.Study(fields, folder=tmp_path)
    assert any("'colour'" in caution for caution in study.place_report().cautions)
    assert sidon.Study.from_dict(study.to_dict()).place_report().ignored == ("colour",)


def test_one_bad_line_does_not_hide_the_others(fields: dict[str, Any], tmp_path: Path) -> None:
    table = (
        f"{HEAD}\nA,37,0.7,-30,1000,300,digital\nB,15,north,-30,1000,300,digital\n"
        "C,16,0.7,-30,1000,300,digtal\nD,17,0.7\n"
    )
    (tmp_path / "stations.csv").write_text(table)
    assert set(faults(fields, tmp_path)) == {
        "stations.csv, line 2",
        "stations.csv, line 3, column latitude",
        "stations.csv, line 4",
        "stations.csv, line 5",
    }


def test_a_misspelt_region_is_the_only_fault(fields: dict[str, Any], tmp_path: Path) -> None:
    fields["availability"]["regoin"] = fields["availability"].pop("region")
    assert set(faults(fields, tmp_path)) == {"availability.regoin"}
    fields["availability"]["region"] = "uss"
    del fields["availability"]["regoin"]
    assert set(faults(fields, tmp_path)) == {"availability.region"}


def test_a_level_is_no_number_of_degrees(fields: dict[str, Any], tmp_path: Path) -> None:
    fields["availability"]["indoor"] = {"measured_dbm": {"15": "x"}}
    fields["place"]["latitude"] = "north"
    fields["place"]["longitude"] = 267.1
    found = faults(fields, tmp_path)
    assert "the same meridian is -92.9" in found["place.longitude"].remedy
    assert "degrees" not in found["availability.indoor.measured_dbm.15"].remedy
    assert "degrees" in found["place.latitude"].remedy


def test_scans_keep_their_index_beside_one_that_is_gone(
    fields: dict[str, Any], tmp_path: Path
) -> None:
    wrong = {"heard": {}, "use": ["sing"]}
    fields["availability"]["scans"] = ["gone.csv", wrong]
    found = faults(fields, tmp_path)
    assert "availability.scans[0]" in found
    rest = [place for place in found if place != "availability.scans[0]"]
    assert rest
    assert all(place.startswith("availability.scans[1]") for place in rest)


def test_a_place_where_nothing_may_be_used_is_told_all_the_same(
    fields: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fields["availability"] |= {"region": "australia"}
    table = f"{HEAD}\nA,30,0.7,-30,1000,300,digital\n"
    (tmp_path / "stations.csv").write_text(table)
    path = tmp_path / "study.json"
    path.write_text(json.dumps(fields))
    picture = tmp_path / "place.png"
    assert main(["place", str(path), "--picture", str(picture)]) == 0
    out = capsys.readouterr().out
    assert "list in confirmed: '520-694 MHz', 'digital', 'protection'" in " ".join(out.split())
    assert picture.exists()
    # A plan still needs something to use.
    assert main(["plan", str(path), "--out", str(tmp_path / "plan.json")]) == 2
    assert "no band of 'australia' may be used" in capsys.readouterr().err
    fields["availability"]["confirmed"] = ["zz"]
    path.write_text(json.dumps(fields))
    assert main(["place", str(path)]) == 2
    assert "no entry 'zz'" in capsys.readouterr().err


def test_the_picture_says_that_other_bands_are_not_drawn() -> None:
    title = place_picture(sidon.place_report("us", occupied=[])).get_suptitle()
    assert "Other bands are not drawn" in title
