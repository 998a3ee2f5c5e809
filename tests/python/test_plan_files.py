"""plan.json and CSV: self-contained, read back whole, never half written."""

from __future__ import annotations

import csv
import json
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


def test_csv_holds_every_assignment_in_exact_mhz(small_plan: sidon.Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.csv"
    small_plan.to_csv(path)
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
    assert list(rows[0]) == [
        "link",
        "zone",
        "profile",
        "frequency_mhz",
        "spare",
        "locked",
        "windows",
    ]
    assert [sidon.parse_frequency(row["frequency_mhz"]) for row in rows] == [
        row.frequency_hz for row in small_plan.assignments
    ]
    assert rows[0]["locked"] == "yes"
    assert rows[-1]["windows"] == "show"


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
        ({"asignments": []}, "asignments: extra inputs"),
        ({"zones": ["hall"]}, "no zone is named 'yard'"),
        ({"profiles": []}, "no profile is named 'hand'"),
        ({"windows": []}, "no window is named 'show'"),
        ({"availability": {}}, "the profile 'ears' has none"),
        ({"assignments": [{"link": "a"}]}, r"assignments\[0\].zone: field required"),
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
    fields["profiles"][0]["guards_hz"] = {"A+B": 5}
    with pytest.raises(sidon.PlanError):
        sidon.Plan.from_dict(fields).check()


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
