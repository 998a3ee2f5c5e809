"""plan.json and CSV: self-contained, read back whole, never half written."""

from __future__ import annotations

import csv
import json
import os
from pathlib import Path
from typing import Any

import pytest

import sidon


def test_the_document_has_what_a_verifier_needs(small_plan: sidon.Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    small_plan.to_json(path)
    fields = json.loads(path.read_text(encoding="utf-8"))
    assert fields["format"] == "sidon-plan/1"
    for profile in fields["profiles"]:
        assert {"name", "separation_hz", "guards_hz", "mixes"} <= set(profile)
        assert fields["availability"][profile["name"]]
    for row in fields["assignments"]:
        assert set(row) == {
            "link",
            "zone",
            "profile",
            "frequency_hz",
            "spare",
            "locked",
            "windows",
            "party",
            "wanted_hz",
            "priority",
            "shared",
        }
        assert isinstance(row["frequency_hz"], int)
    assert fields["couplings"] == [{"zones": ["hall", "yard"], "degree": "separation"}]
    assert fields["seed"] == 1
    assert {"sidon", "python"} <= set(fields["versions"])
    assert fields["caution"]


def test_reads_back_what_it_writes(small_plan: sidon.Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    small_plan.to_json(path)
    again = sidon.Plan.from_json(path)
    assert again == small_plan
    assert again.check().hard == 0
    second = tmp_path / "second.json"
    again.to_json(second)
    assert second.read_bytes() == path.read_bytes()


def csv_rows(plan: sidon.Plan, path: Path) -> list[dict[str, str]]:
    plan.to_csv(path)
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def test_csv_holds_every_link_in_exact_mhz(small_plan: sidon.Plan, tmp_path: Path) -> None:
    rows = csv_rows(small_plan, tmp_path / "plan.csv")
    assert list(rows[0]) == [
        "link",
        "zone",
        "profile",
        "frequency_mhz",
        "spare",
        "locked",
        "windows",
        "refused",
        "party",
        "wanted_mhz",
    ]
    assert {row["link"]: sidon.parse_frequency(row["frequency_mhz"]) for row in rows} == {
        row.link: row.frequency_hz for row in small_plan.assignments
    }
    by_link = {row["link"]: row for row in rows}
    assert by_link["vox-1"]["locked"] == "yes"
    assert by_link["ears-1"]["windows"] == "show"
    assert {row["refused"] for row in rows} == {"no"}
    # By zone in the order of the plan, then by frequency.
    zones = [row["zone"] for row in rows]
    assert zones == ["hall"] * zones.count("hall") + ["yard"] * zones.count("yard")
    for zone in ("hall", "yard"):
        hertz = [sidon.parse_frequency(r["frequency_mhz"]) for r in rows if r["zone"] == zone]
        assert hertz == sorted(hertz)


def test_csv_holds_refused_links_without_a_frequency(
    study_fields: dict[str, Any], tmp_path: Path
) -> None:
    study_fields["demand"][2] |= {"count": 40, "priority": 1}
    plan = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=500)
    rows = csv_rows(plan, tmp_path / "plan.csv")
    assert len(rows) == len(plan.assignments) + len(plan.refused)
    lost = [row for row in rows if row["refused"] == "yes"]
    assert {row["link"] for row in lost} == {row.link for row in plan.refused} != set()
    assert {row["frequency_mhz"] for row in lost} == {""}
    hall = [row["refused"] for row in rows if row["zone"] == "hall"]
    assert hall == sorted(hall)  # "no" before "yes": refused links follow those of their zone


def test_csv_says_who_asked_and_for_what(study_fields: dict[str, Any], tmp_path: Path) -> None:
    study_fields["demand"][0] |= {"party": "Examples", "wanted": [477.5]}
    plan = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=500)
    rows = {row["link"]: row for row in csv_rows(plan, tmp_path / "plan.csv")}
    assert (rows["vox-1"]["party"], rows["vox-1"]["wanted_mhz"]) == ("Examples", "477.500")
    assert (rows["vox-2"]["party"], rows["vox-2"]["wanted_mhz"]) == ("Examples", "")
    assert rows["host"]["party"] == ""


def test_a_failed_write_leaves_what_was_there(
    small_plan: sidon.Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "plan.json"
    path.write_text("before", encoding="utf-8")

    def full(_descriptor: int) -> None:
        what = "no space left on device"
        raise OSError(28, what)

    monkeypatch.setattr("os.fsync", full)
    for write in (small_plan.to_json, small_plan.to_csv):
        with pytest.raises(OSError, match="no space"):
            write(path)
    assert path.read_text(encoding="utf-8") == "before"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"format": "sidon-plan/2"}, "only 'sidon-plan/1'"),
        ({"asignments": []}, "asignments: the key 'asignments' is unknown"),
        ({"zones": ["hall"]}, "no zone is named 'yard'"),
        ({"profiles": []}, "no profile is named 'hand'"),
        ({"couplings": []}, "the pair 'hall' and 'yard' is not listed"),
        ({"windows": []}, "no window is named 'show'"),
        ({"availability": {}}, "the profile 'ears' has none"),
        ({"assignments": [{"link": "a"}]}, r"assignments\[0\].zone: the key 'zone' is missing"),
        ({"seed": "one"}, "seed"),
    ],
)
def test_a_document_that_is_no_plan_is_refused(
    small_plan: sidon.Plan, change: dict[str, Any], message: str
) -> None:
    with pytest.raises(sidon.PlanError, match=message):
        sidon.Plan.from_dict(small_plan.to_dict() | change)


def test_a_link_that_stands_twice_is_refused(small_plan: sidon.Plan) -> None:
    fields = small_plan.to_dict()
    fields["assignments"].append(fields["assignments"][0])
    with pytest.raises(sidon.PlanError, match="'vox-1' stands 2 times"):
        sidon.Plan.from_dict(fields)


@pytest.mark.parametrize("hz", [470.5e6, "470500000", -1, 0, None, True])
def test_a_frequency_is_a_whole_number_of_hertz(small_plan: sidon.Plan, hz: object) -> None:
    fields = small_plan.to_dict()
    fields["assignments"][0]["frequency_hz"] = hz
    with pytest.raises(sidon.PlanError, match=r"assignments\[0\]\.frequency_hz"):
        sidon.Plan.from_dict(fields)


def test_an_unsound_problem_in_the_document_is_a_plan_error(small_plan: sidon.Plan) -> None:
    fields = small_plan.to_dict()
    fields["availability"]["hand"] = [[470_000_000, 470_000_001]]
    fields["profiles"][0]["raster_origin_hz"] = 470_000_002
    with pytest.raises(sidon.PlanError, match="describes no sound problem: 1 fault"):
        sidon.Plan.from_dict(fields).check()


def test_all_faults_of_a_plan_come_in_one_report(small_plan: sidon.Plan, tmp_path: Path) -> None:
    fields = small_plan.to_dict()
    fields["assignments"][0]["frequency_hz"] = "470.5 MHz"
    fields["assignments"][1]["zone"] = "attic"
    fields["assignments"][2]["windows"] = ["shwo"]
    fields["assignments"][3]["link"] = "vox-99"
    fields["incumbents"][0]["profile"] = "hands"
    fields["profiles"][0]["guards_hz"] = {"A+B": 5, "2A-B": 0, "2B-A": 0}
    fields["profiles"][1]["mixes"] = 1
    fields["couplings"] = []
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(fields), encoding="utf-8")
    with pytest.raises(sidon.PlanError) as caught:
        sidon.Plan.from_json(path)
    said = str(caught.value)
    assert said.startswith(f"{path}: it is not a plan: 9 faults")
    for fault in (
        "assignments[0].frequency_hz: '470.5 MHz' is not a whole number; write a whole",
        "assignments[1].zone: no zone is named 'attic'",
        "assignments[2].windows: no window is named 'shwo'",
        "assignments[3].link: 'vox-99' is not among the links asked for",
        "incumbents[0].profile: no profile is named 'hands'",
        "profiles[0].guards_hz.A+B: it is not a product form",
        "profiles[0].guards_hz.2B-A: the form 2A-B has two guards",
        "profiles[1].mixes: 1 is not true or false",
        "couplings: the pair 'hall' and 'yard' is not listed",
    ):
        assert fault in said
    assert said.endswith("further faults may show once these are mended")


def test_a_path_that_is_no_file_is_never_replaced(small_plan: sidon.Plan, tmp_path: Path) -> None:
    pipe, directory = tmp_path / "pipe.png", tmp_path / "directory.png"
    os.mkfifo(pipe)
    directory.mkdir()
    for path, kind in ((pipe, "a named pipe"), (directory, "a directory")):
        for write in (small_plan.to_json, small_plan.to_csv, small_plan.picture):
            with pytest.raises(sidon.PlanError, match=f"is {kind}; name a regular file"):
                write(path)
    assert pipe.is_fifo()
    assert sorted(tmp_path.iterdir()) == [directory, pipe]


def test_a_link_to_a_file_keeps_pointing_at_it(small_plan: sidon.Plan, tmp_path: Path) -> None:
    target, link = tmp_path / "target.json", tmp_path / "link.json"
    link.symlink_to(target)
    for _ in range(2):  # to a file that is not there yet, and to one that is
        small_plan.to_json(link)
        assert link.is_symlink()
        assert sidon.Plan.from_json(target) == small_plan


def test_every_cut_of_a_file_is_an_error_and_not_a_crash(
    small_plan: sidon.Plan, tmp_path: Path
) -> None:
    path = tmp_path / "plan.json"
    small_plan.to_json(path)
    whole = path.read_bytes().rstrip()
    for end in range(0, len(whole), 97):
        path.write_bytes(whole[:end])
        with pytest.raises(sidon.PlanError, match="not JSON"):
            sidon.Plan.from_json(path)


@pytest.mark.parametrize("name", ["p.png", "p.pdf", "p.svg"])
def test_draws_the_same_picture_twice(small_plan: sidon.Plan, tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    small_plan.picture(path)
    first = path.read_bytes()
    assert first.startswith({".png": b"\x89PNG", ".pdf": b"%PDF", ".svg": b"<?xml"}[path.suffix])
    small_plan.picture(path)
    assert path.read_bytes() == first


def test_a_picture_needs_a_known_ending(small_plan: sidon.Plan, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="use png, pdf, svg"):
        small_plan.picture(tmp_path / "picture.doc")
