"""Classes of equipment: the catalogue, files of one's own, and profiles that name a class."""

from __future__ import annotations

import itertools
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon import MHz, kHz

Fields = dict[str, Any]
Reader = Callable[[Fields], dict[str, sidon.Fault]]

OWN = """
format = "sidon-equipment/1"
[[classes]]
name = "stage-pack"
kind = "digital body pack"
raster = "25 kHz"
bandwidth = "200 kHz"
separation = "375 kHz"
bands = { low = [470, 490], high = [480, 500] }
source = "data sheet of an invented maker"
as_of = 2026-11-01
"""


def test_every_class_asked_for_is_there_and_says_that_it_is_invented() -> None:
    known = sidon.classes()
    assert list(known) == [
        "narrow-analogue",
        "wide-analogue",
        "standard-digital",
        "wide-digital",
        "dense-digital",
        "in-ear-analogue",
        "in-ear-digital",
        "vhf",
        "licence-exempt",
    ]
    for entry in known.values():
        assert len(entry.bands) >= 3
        assert "invented" in entry.source
        assert entry.as_of is not None
        assert "replace by the maker's figures" in entry.caution
        assert entry.power.endswith("mW")
        for low, high in entry.bands.values():
            # So that all bands of a class stand on one raster.
            assert low % entry.raster == high % entry.raster == 0


def test_the_figures_are_those_of_common_practice() -> None:
    # common practice: analogue 300-400 kHz apart, digital 350 kHz as standard and 125-250 kHz in
    # modes with carriers close together; guards on 2A-B 50-100 kHz analogue, 0-50 kHz digital.
    known = sidon.classes()
    for name in ("narrow-analogue", "wide-analogue"):
        assert 300 * kHz <= known[name].separation <= 400 * kHz
        assert 50 * kHz <= known[name].guards["2A-B"] <= 100 * kHz
    assert known["standard-digital"].separation == 350 * kHz
    assert known["standard-digital"].guards.get("2A-B", 0) <= 50 * kHz
    assert 125 * kHz <= known["dense-digital"].separation <= 250 * kHz


def test_the_catalogue_shows_itself_and_is_a_table() -> None:
    known = sidon.classes()
    table = known.columns()
    assert table.n_rows == sum(len(entry.bands) for entry in known.values())
    assert set(table["class"]) == set(known)
    assert "invented" in repr(known)
    assert "<table>" in known._repr_html_()


def test_a_profile_takes_the_figures_of_its_class_and_its_own_come_first(
    study_fields: Fields,
) -> None:
    study_fields["profiles"][0] = {
        "name": "hand",
        "class": "standard-digital",
        "band": "470-534",
        "separation": "400 kHz",
    }
    study = sidon.Study.from_dict(study_fields)
    hand = study.model.profiles[0]
    assert hand.ranges == [(470 * MHz, 534 * MHz)]
    assert (hand.separation, hand.guards, hand.raster) == (400_000, {"2A-B": 50_000}, 25_000)
    assert sidon.Study.from_dict(study.to_dict()) == pickle.loads(pickle.dumps(study)) == study
    document = study.plan(seed=1, iterations=5_000).document
    # The plan holds the values themselves, and where they come from.
    assert document.profiles[0].separation_hz == 400_000
    assert document.profiles[0].guards_hz == {"2A-B": 50_000}
    assert any("invented, typical of the class" in line for line in document.caution)


def test_without_a_band_every_band_of_the_class_is_meant(study_fields: Fields) -> None:
    study_fields["profiles"][0] = {"name": "hand", "class": "standard-digital"}
    hand = sidon.Study.from_dict(study_fields).model.profiles[0]
    assert list(hand.bands) == ["470-534", "534-598", "470-608", "606-694"]
    study_fields["profiles"][0]["band"] = ["470-534", "534-598"]
    hand = sidon.Study.from_dict(study_fields).model.profiles[0]
    assert list(hand.bands.values()) == hand.ranges
    # Ranges of one's own take the place of the bands.
    study_fields["profiles"][0] = {"name": "hand", "class": "vhf", "ranges": [[470, 480]]}
    hand = sidon.Study.from_dict(study_fields).model.profiles[0]
    assert (hand.bands, hand.ranges) == ({}, [(470 * MHz, 480 * MHz)])


def test_the_name_of_the_class_does_where_there_is_no_other(study_fields: Fields) -> None:
    study_fields["profiles"].append({"class": "wide-analogue"})
    assert sidon.Study.from_dict(study_fields).model.profiles[2].name == "wide-analogue"


def test_classes_of_ones_own_stand_in_a_file_or_in_the_study(
    study_fields: Fields, tmp_path: Path
) -> None:
    (tmp_path / "stock.toml").write_text(OWN, encoding="utf-8")
    known = sidon.classes(tmp_path / "stock.toml")
    assert known["stage-pack"].separation == 375 * kHz
    assert len(known) == len(sidon.classes()) + 1
    text = """
    format = "sidon-study/1"
    name = "A file beside the study (invented)"
    place = { name = "Hall (invented)" }
    equipment = "stock.toml"
    zones = ["hall"]
    availability = { ranges = [[470, 500]] }
    profiles = [{ class = "stage-pack", band = "low" }]
    demand = [{ id = "pack", count = 2, profile = "stage-pack", zone = "hall" }]
    """
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    study = sidon.Study.from_file(tmp_path / "study.toml")
    assert study.model.profiles[0].ranges == [(470 * MHz, 490 * MHz)]
    # The file is not needed again.
    (tmp_path / "stock.toml").unlink()
    assert sidon.Study.from_dict(study.to_dict()) == study
    study_fields["classes"] = study.to_dict()["classes"]
    study_fields["profiles"].append({"class": "stage-pack"})
    assert sidon.Study.from_dict(study_fields).model.profiles[2].separation == 375 * kHz


def test_a_class_of_ones_own_takes_the_place_of_one_with_its_name(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(OWN.replace("stage-pack", "standard-digital"), encoding="utf-8")
    known = sidon.classes(path)
    assert len(known) == len(sidon.classes())
    assert known["standard-digital"].separation == 375 * kHz


def test_an_unknown_class_lists_the_names_and_nothing_else_is_missed(
    study_fields: Fields, faults_of: Reader
) -> None:
    study_fields["profiles"][0] = {"name": "hand", "class": "standard-digitl"}
    study_fields["profiles"][1] |= {"class": 7}
    study_fields["profiles"].append({"name": "spot", "class": "vhf", "band": ["174-198", "nine"]})
    study_fields["profiles"].append(
        {"name": "both", "class": "vhf", "band": "x", "ranges": [[1, 2]]}
    )
    study_fields["equipment"] = ["none.toml", 3]
    faults = faults_of(study_fields)
    assert set(faults) == {
        "equipment[0]",
        "equipment[1]",
        "profiles[0].class",
        "profiles[1].class",
        "profiles[2].band[1]",
        "profiles[3].band",
    }
    remedy = faults["profiles[0].class"].remedy
    assert remedy.startswith("did you mean 'standard-digital'?")
    assert all(name in remedy for name in sidon.classes())
    assert "174-198" in faults["profiles[2].band[1]"].remedy


def test_a_slip_in_the_keys_is_guessed(study_fields: Fields, faults_of: Reader) -> None:
    study_fields["profiles"][0]["clas"] = "vhf"
    study_fields["equipmnt"] = "stock.toml"
    faults = faults_of(study_fields)
    assert faults["profiles[0].clas"].remedy == "did you mean 'class'?"
    assert faults["equipmnt"].remedy == "did you mean 'equipment'?"


@pytest.mark.parametrize(
    ("change", "place", "what"),
    [
        (('format = "sidon-equipment/1"', ""), "own.toml: format", "missing"),
        (("375 kHz", "-1 kHz"), "own.toml: classes[0].separation", "negative"),
        (("raster", "rastr"), "own.toml: classes[0].rastr", "unknown"),
        (("[480, 500]", "[500, 480]"), "own.toml: classes[0].bands.high", "not below"),
    ],
)
def test_every_fault_of_a_file_names_it(
    tmp_path: Path, change: tuple[str, str], place: str, what: str
) -> None:
    path = tmp_path / "own.toml"
    path.write_text(OWN.replace(*change), encoding="utf-8")
    with pytest.raises(sidon.StudyError) as caught:
        sidon.classes(path)
    faults = {fault.place: fault for fault in caught.value.faults}
    assert what in faults[place].what
    assert faults[place].remedy


def test_two_classes_of_one_name_are_refused(
    study_fields: Fields, faults_of: Reader, tmp_path: Path
) -> None:
    (tmp_path / "own.toml").write_text(OWN + OWN.split("\n", 2)[2], encoding="utf-8")
    with pytest.raises(sidon.StudyError, match="stands twice"):
        sidon.classes(tmp_path / "own.toml")
    entry = sidon.classes()["vhf"].model_dump(mode="json", exclude_none=True)
    study_fields["classes"] = [entry, entry, {"name": "half"}]
    study_fields["profiles"].append({"class": "half"})
    faults = faults_of(study_fields)
    assert "stands twice" in faults["classes[1].name"].what
    # What is wrong with the class is said at the class.
    assert "classes[2].bands" in faults
    assert not any(place.startswith("profiles[2]") for place in faults)


def test_four_licence_exempt_carriers_stand_clear_of_each_other() -> None:
    # common practice: 863.1, 863.7, 864.1 and 864.9 MHz are used together in 863-865 MHz.
    entry = sidon.classes()["licence-exempt"]
    carriers = [863_100_000, 863_700_000, 864_100_000, 864_900_000]
    assert min(b - a for a, b in itertools.pairwise(carriers)) >= entry.separation
    counts = sidon.hit_counts(carriers, guards=entry.guards)
    assert all(counts[form].sum() == 0 for form in entry.guards)
