"""Bad input: every fault at once, each with its place and a remedy."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.demo import study_text

Fields = dict[str, Any]
Reader = Callable[[Fields], dict[str, sidon.Fault]]


def test_all_faults_come_in_one_report(study_fields: Fields, faults_of: Reader) -> None:
    study_fields["nmae"] = "typo"
    study_fields["profiles"][0]["guards"]["2A-B"] = "-50 kHz"
    study_fields["profiles"][1]["separation"] = float("nan")
    study_fields["demand"][0]["zone"] = "hal"
    study_fields["demand"][1]["ids"] = ["host", "host"]
    study_fields["couplings"].append({"zones": ["yard", "hall"], "degree": "full"})
    study_fields["locks"]["vox-9"] = 470.5
    faults = faults_of(study_fields)
    assert set(faults) == {
        "nmae",
        "profiles[0].guards.2A-B",
        "profiles[1].separation",
        "demand[0].zone",
        "demand[1].ids",
        "couplings[1]",
        "locks.vox-9",
    }
    assert faults["nmae"].remedy == "did you mean 'name'?"
    assert "negative" in faults["profiles[0].guards.2A-B"].what
    assert "not a number" in faults["profiles[1].separation"].what
    assert faults["demand[0].zone"].remedy == "did you mean 'hall'?"
    assert "named already" in faults["demand[1].ids"].what
    assert "coupled already in couplings[0]" in faults["couplings[1]"].what
    assert "not in demand" in faults["locks.vox-9"].what
    assert all(fault.what and fault.remedy for fault in faults.values())


def test_a_field_that_cannot_be_read_does_not_hide_what_can_be_told_without_it(
    study_fields: Fields, faults_of: Reader
) -> None:
    # Every row has one unreadable field, and faults against other rows besides.
    study_fields["availability"] |= {"edge_guard": -1, "occupied": [15, "16", 15, 99]}
    study_fields["profiles"][0] |= {"raster": 0, "separation": 350}
    study_fields["profiles"][1] |= {"name": "hand", "bandwidth": "wide"}
    study_fields["windows"][0] |= {"name": "show", "end": "tonight"}
    study_fields["couplings"][0] = {"zones": ["hall", "attic"], "degree": "half"}
    study_fields["demand"][0] |= {"count": 0, "zone": "attic", "windows": ["shwo", 7]}
    study_fields["demand"][1] |= {"priority": 0, "profile": "hands", "ids": ["host", "vox-1"]}
    study_fields["demand"][2] |= {"id": "vox", "count": "3", "preferred": [[700, 710], [1]]}
    study_fields["incumbents"][0] |= {"frequency": 0, "zone": "street", "name": "host"}
    study_fields["locks"] = {"choir-1": 470.5, "vox-1": -1}
    faults = faults_of(study_fields)
    assert set(faults) == {
        "availability.edge_guard",
        "availability.occupied[1]",
        "availability.occupied[2]",
        "availability.occupied[3]",
        "profiles[0].raster",
        "profiles[0].separation",
        "profiles[1].bandwidth",
        "profiles[1].name",
        "windows[0].end",
        "windows[1].name",
        "couplings[0].degree",
        "couplings[0].zones",
        "demand[0].count",
        "demand[0].zone",
        "demand[0].windows",
        "demand[0].windows[1]",
        "demand[1].priority",
        "demand[1].profile",
        "demand[1].ids",
        "demand[2].count",
        "demand[2].id",
        "demand[2].preferred[1]",
        "demand[2].profile",
        "incumbents[0].frequency",
        "incumbents[0].zone",
        "incumbents[0].name",
        "locks.choir-1",
        "locks.vox-1",
    }
    assert "'choir-1' is not in demand" in faults["locks.choir-1"].what
    assert "channel 99 is not on the raster" in faults["availability.occupied[3]"].what


@pytest.mark.parametrize("link", ["vox-9", "talk-1"])
def test_a_lock_is_not_called_unknown_while_its_row_cannot_be_read(
    study_fields: Fields, faults_of: Reader, link: str
) -> None:
    study_fields["locks"] = {link: 470.5}
    study_fields["demand"][0]["count"] = "many"
    study_fields["demand"][1]["ids"] = ["host", 7]
    assert set(faults_of(study_fields)) == {"demand[0].count", "demand[1].ids[1]"}


def test_a_report_says_when_there_may_be_more(study_fields: Fields) -> None:
    ending = "further faults may show once these are mended"

    def report(fields: Fields) -> str:
        with pytest.raises(sidon.StudyError) as caught:
            sidon.Study.from_dict(fields)
        assert pickle.loads(pickle.dumps(caught.value)).further == caught.value.further
        return str(caught.value)

    # A typo in a key of its own hides nothing.
    study_fields["locks"], study_fields["nmae"] = {}, "typo"
    assert not report(study_fields).endswith(ending)
    # Two fixed carriers are compared with each other only in a study that is sound.
    study_fields["locks"] = {"vox-1": 470.5}
    assert report(study_fields).endswith(ending)
    # What cannot be read may hide a fault.
    study_fields["locks"], study_fields["incumbents"] = {}, []
    study_fields["profiles"][0]["raster"] = 0
    assert report(study_fields).endswith(ending)


def test_every_bad_form_of_a_table_of_guards_is_a_fault_of_its_own(
    study_fields: Fields, faults_of: Reader
) -> None:
    guards = {"A+B": 0.1, "2A-B": -1, "2B-A": 0.1, "": 0.1, "C": "x", "3A-2B": "wide"}
    study_fields["profiles"][0]["guards"] = guards
    faults = faults_of(study_fields)
    assert set(faults) == {f"profiles[0].guards.{form}" for form in guards if form} | {
        "profiles[0].guards."
    }


def test_what_is_known_is_listed_once(study_fields: Fields, faults_of: Reader) -> None:
    study_fields["windows"][1]["name"] = "rehearsal"
    study_fields["demand"][2]["windows"] = ["zzz"]
    assert faults_of(study_fields)["demand[2].windows"].remedy == "known: rehearsal"


@pytest.mark.parametrize("section", ["[[profiles]]", "[[zones]]", "[[demand]]"])
def test_a_file_cut_between_two_tables_may_be_cut_short(section: str) -> None:
    text = study_text()
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study.from_toml_text(text[: text.index(section)])
    last = caught.value.faults[-1]
    assert last.place == "demand"
    assert "the file may be cut short: restore it" in last.remedy


def test_no_message_speaks_the_language_of_the_schema(study_fields: Fields) -> None:
    study_fields["profiles"] = "hand"
    study_fields["demand"][0] |= {"count": 0, "priority": 101, "windows": "show"}
    study_fields["place"] |= {"latitude": "north", "longitude": 181, "note": 7}
    study_fields["windows"][0]["name"] = ""
    study_fields["windows"][1]["name"] = "x" * 81
    study_fields["couplings"][0]["zones"] = ["hall"]
    study_fields["availability"] |= {"ranges": [], "as_of": "soon"}
    study_fields["locks"] = [470.5]
    study_fields["demand"][1]["count"] = 2.5
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study.from_dict(study_fields)
    said = str(caught.value).lower()
    for word in ("should", "valid", "input", "item", "correct it", "dictionary", "instance"):
        assert word not in said.replace("faults in the input", ""), word
    assert "101 is more than 100; write 100 or less" in said
    assert "the list has one entry; write at least 2 entries" in said


def change(place: str, value: object) -> Callable[[Fields], None]:
    """Make a function that sets what stands at a dotted place."""
    *path, last = place.split(".")

    def apply(fields: Fields) -> None:
        table: Any = fields
        for key in path:
            table = table[int(key) if key.isdigit() else key]
        table[int(last) if last.isdigit() else last] = value

    return apply


CASES = [
    ("format", "sidon-study/2", "format", "not allowed", "use 'sidon-study/1'"),
    ("name", "", "name", "the text is empty", "at least one character"),
    ("name", "=SUM(A1)", "name", "spreadsheet formula", "start it with a letter"),
    ("name", "a\x07b", "name", "control character", "printable"),
    ("profiles", [], "profiles", "the list is empty", "at least one entry"),
    ("profiles", {}, "profiles", "table of 0 is not a list", "write a list"),
    ("place.latitude", 91, "place.latitude", "91 is more than 90", "write 90 or less"),
    (
        "availability.ranges",
        [[500, 470]],
        "availability.ranges[0]",
        "not below",
        "lower edge first",
    ),
    ("availability.ranges", [[470]], "availability.ranges[0]", "two edges", "[470, 608]"),
    ("availability.ranges", ["470-608"], "availability.ranges[0]", "not a pair", "[470, 608]"),
    (
        "availability.occupied",
        [15, 99],
        "availability.occupied[1]",
        "not on the raster",
        "14 to 18",
    ),
    ("availability.occupied", [15, 15], "availability.occupied[1]", "stands twice", "once"),
    ("availability.tv_raster", None, "availability.occupied", "without a raster", "add tv_raster"),
    ("availability.tv_raster.last_number", 13, "availability.tv_raster", "before the first", "asc"),
    ("availability.edge_guard", "-1 MHz", "availability.edge_guard", "negative", "0 or a positive"),
    ("availability.as_of", "yesterday", "availability.as_of", "date", "2026-07-04"),
    ("profiles.0.raster", 0, "profiles[0].raster", "not above zero", "above zero"),
    ("profiles.0.raster", 50, "profiles[0].raster", "larger than its tuning", "350 kHz"),
    ("profiles.0.separation", 350, "profiles[0].separation", "larger than its tuning", "350 kHz"),
    ("profiles.0.separation", 350_000, "profiles[0].separation", "hertz or kilohertz", "0.350 MHz"),
    ("profiles.0.guards", {"2A-B": 50}, "profiles[0].guards.2A-B", "larger than", "350 kHz"),
    ("profiles.0.guards", {"A+B": 0.1}, "profiles[0].guards.A+B", "not a product form", "2A-B"),
    (
        "profiles.0.guards",
        {"2A-B": 0, "2B-A": 0},
        "profiles[0].guards.2B-A",
        "two guards",
        "keep one",
    ),
    ("profiles.0.mixes", "yes", "profiles[0].mixes", "not true or false", "true or false"),
    ("profiles.0.bandwith", 0.2, "profiles[0].bandwith", "unknown", "did you mean 'bandwidth'?"),
    ("profiles.1.name", "hand", "profiles[1].name", "stands twice", "own name"),
    ("zones", ["hall", "hall"], "zones[1].name", "stands twice", "own name"),
    ("couplings.0.degree", "partial", "couplings[0].degree", "not allowed", "'full'"),
    ("couplings.0.zones", ["hall", "hall"], "couplings[0]", "coupled to itself", "remove it"),
    ("couplings.0.zones", ["hall", "attic"], "couplings[0].zones", "'attic'", "known: hall, yard"),
    ("windows.0.end", "2031-05-01T09:00", "windows[0]", "not after its start", "after the start"),
    ("windows.0.end", "2031-05-01T18:00+02:00", "windows[0].end", "offset", "local time"),
    ("windows.0.end", "2031-05-01T18:00:30", "windows[0].end", "whole minute", "local time"),
    ("windows.0.end", "tonight", "windows[0].end", "not a date", "2026-07-04T18:00"),
    ("windows.1.name", "rehearsal", "windows[1].name", "stands twice", "own name"),
    ("demand", [], "demand", "the list is empty", "at least one entry"),
    ("demand.0.count", 0, "demand[0].count", "0 is less than 1", "write 1 or more"),
    ("demand.0.count", "5", "demand[0].count", "not a whole number", "without quotes"),
    ("demand.0.count", None, "demand[0]", "names no links", "id and count"),
    ("demand.1.count", 2, "demand[1]", "both count and ids", "keep one"),
    ("demand.1.id", None, "demand[1]", "spares have no name", "id-spare-1"),
    ("demand.0.spares", "few", "demand[0].spares", "not a number of spares", "20 %"),
    ("demand.0.spares", -1, "demand[0].spares", "not between 0", "20 %"),
    ("demand.0.spares", "5000 %", "demand[0].spares", "above 1000 %", "20 %"),
    ("demand.0.priority", 0, "demand[0].priority", "0 is less than 1", "write 1 or more"),
    ("demand.0.profile", "hands", "demand[0].profile", "not defined", "did you mean 'hand'?"),
    ("demand.2.windows", ["shwo"], "demand[2].windows", "not defined", "did you mean 'show'?"),
    ("demand.0.preferred", [[700, 710]], "demand[0].preferred[0]", "outside the tuning", "inside"),
    ("demand.2.id", "vox", "demand[2].id", "named already in demand[0].id", "own name"),
    ("locks", {"vox-11": 470.5}, "locks.vox-11", "not in demand", "did you mean 'vox-1'?"),
    ("locks", {"vox-1": 470.51}, "locks.vox-1", "points here are 470.500", "drop the lock"),
    ("locks", {"vox-1": 477}, "locks.vox-1", "occupied channel 15", "drop the lock"),
    ("locks", {"vox-1": 518_125_000}, "locks.vox-1", "looks like hertz", "write 518.125 MHz"),
    ("incumbents.0.name", "vox-2", "incumbents[0].name", "used already", "own name"),
    ("incumbents.0.zone", "street", "incumbents[0].zone", "not defined", "known: hall, yard"),
    ("incumbents.0.frequency", "484,25", "incumbents[0].frequency", "comma", "point"),
]


@pytest.mark.parametrize(("where", "value", "place", "what", "remedy"), CASES)
def test_each_fault_names_its_place_and_remedy(
    study_fields: Fields,
    faults_of: Reader,
    where: str,
    value: object,
    place: str,
    what: str,
    remedy: str,
) -> None:
    change(where, value)(study_fields)
    faults = faults_of(study_fields)
    assert place in faults, list(map(str, faults.values()))
    assert what in faults[place].what
    assert remedy in faults[place].remedy


@pytest.mark.parametrize("key", ["format", "name", "place", "availability", "zones", "demand"])
def test_a_missing_key_is_named(study_fields: Fields, faults_of: Reader, key: str) -> None:
    del study_fields[key]
    assert f"the key {key!r} is missing" in faults_of(study_fields)[key].what


def test_an_empty_domain_says_what_ate_it(study_fields: Fields, faults_of: Reader) -> None:
    study_fields["availability"]["occupied"] = [15, 17, 18]
    faults = faults_of(study_fields)
    assert list(faults) == ["profiles[1]"]
    assert "occupied channel 18 (494.000-500.000 MHz)" in faults["profiles[1]"].what


def test_a_raster_too_fine_to_hold_is_refused(study_fields: Fields, faults_of: Reader) -> None:
    study_fields["profiles"][0]["raster"] = "1 Hz"
    assert "candidate frequencies" in faults_of(study_fields)["profiles[0].raster"].what


def test_locks_too_close_contradict_each_other(study_fields: Fields, faults_of: Reader) -> None:
    study_fields["locks"]["vox-2"] = "470.7 MHz"
    faults = faults_of(study_fields)
    assert list(faults) == ["locks.vox-2"]
    assert "contradictory locks" in faults["locks.vox-2"].what
    assert "drop a lock" in faults["locks.vox-2"].remedy


def test_locks_whose_product_hits_a_lock_contradict_each_other(
    study_fields: Fields, faults_of: Reader
) -> None:
    # Equal spacing is the worst case: 2 x 471.0 - 470.5 = 471.5.
    study_fields["locks"] |= {"vox-2": 471.0, "vox-3": 471.5}
    assert "contradictory locks" in " ".join(
        fault.what for fault in faults_of(study_fields).values()
    )


def test_the_known_set_of_four_does_not_contradict_itself(study_fields: Fields) -> None:
    # 863.1, 863.7, 864.1, 864.9 MHz, in use in the UK as a set free of third-order products: its
    # differences 2, 3, 4, 5, 6, 9 (in 200 kHz) are distinct.
    study_fields["availability"] = {"ranges": [[863, 865]]}
    study_fields["profiles"][0] |= {
        "ranges": [[863.1, 864.9]],
        "raster": "200 kHz",
        "guards": {"2A-B": "200 kHz", "A+B-C": "200 kHz"},
    }
    del study_fields["demand"][1:]
    study_fields["incumbents"] = []
    study_fields["locks"] = {"vox-1": 863.1, "vox-2": 863.7, "vox-3": 864.1, "vox-4": 864.9}
    assert sidon.Study.from_dict(study_fields).asked == 6


def test_foreign_carriers_that_clash_say_how_to_go_on(
    study_fields: Fields, faults_of: Reader
) -> None:
    second = {"name": "second crew", "frequency": 484.35, "zone": "yard", "profile": "hand"}
    study_fields["incumbents"].append(second)
    faults = faults_of(study_fields)
    assert list(faults) == ["incumbents[1] (second crew)"]
    assert "separation 0" in faults["incumbents[1] (second crew)"].remedy
    study_fields["profiles"].append(
        study_fields["profiles"][0] | {"name": "foreign", "separation": 0, "guards": {}}
    )
    for incumbent in study_fields["incumbents"]:
        incumbent["profile"] = "foreign"
    assert sidon.Study.from_dict(study_fields).asked == 13


@pytest.mark.parametrize(
    ("name", "text", "place", "what"),
    [
        ("a.toml", 'format = "sidon-study/1"\nname = "half', "a.toml, line 2", "not TOML"),
        ("a.toml", "x = 1\nx = 2\n", "a.toml, line 2", "not TOML"),
        ("a.json", '{"format": "sidon-study/1",\n "name": ', "a.json, line 2", "not JSON"),
        ("a.json", '{"name": "a", "name": "b"}', "a.json", "'name' stands twice"),
        ("a.json", "[1]", "a.json", "not an object"),
        ("a.txt", "", "a.txt", "ends in '.txt'"),
        ("a", "", "a", "no ending"),
        ("empty.toml", "", "format", "missing"),
    ],
)
def test_broken_files_name_the_line(
    tmp_path: Path, name: str, text: str, place: str, what: str
) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study.from_file(tmp_path / name)
    fault = caught.value.faults[0]
    assert fault.place.startswith(place)
    assert what in fault.what
    assert fault.remedy


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"format = 'x'\nname = '\xff\xfe'\n")
    with pytest.raises(sidon.StudyError, match="line 2: it is not UTF-8"):
        sidon.Study.from_file(tmp_path / "a.toml")


def test_every_cut_of_a_file_is_a_fault_and_not_a_crash(
    tmp_path: Path, study_fields: Fields
) -> None:
    text = json.dumps(study_fields)
    path = tmp_path / "cut.json"
    for end in range(0, len(text), 37):
        path.write_text(text[:end], encoding="utf-8")
        with pytest.raises(sidon.StudyError):
            sidon.Study.from_file(path)


def test_a_missing_file_is_an_os_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        sidon.Study.from_file(tmp_path / "none.toml")
