"""The commands made of a plan file alone: pictures, and a sheet for each party."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.cli import main
from sidon.cli.views import KINDS
from sidon.view import PICTURES

Fields = dict[str, Any]


@pytest.fixture
def plan_file(small_plan: sidon.Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    small_plan.to_json("plan.json")
    return Path("plan.json")


def test_every_kind_of_picture_has_its_word() -> None:
    assert set(KINDS) == set(PICTURES)


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_of_a_plan_file(
    kind: str, plan_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["picture", str(plan_file), "--kind", kind, "--out", "a.svg"]) == 0
    assert "Written: a.svg" in capsys.readouterr().out
    assert Path("a.svg").read_text().startswith("<?xml")


def test_faults_of_a_picture_come_together(
    plan_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["picture", "gone.json", "--kind", "pie", "--out", "no/a.gif"]) == 2
    said = capsys.readouterr().err
    for words in (
        "'pie' is no kind",
        "gone.json: there is no such file",
        "'a.gif'",
        "does not exist",
    ):
        assert words in said
    before = plan_file.read_bytes()
    assert main(["picture", "plan.json", "--out", "plan.json"]) == 2
    assert "the same file as the plan" in capsys.readouterr().err
    assert plan_file.read_bytes() == before


def test_requests_from_a_table_to_sheets(
    study_fields: Fields,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    text = "Act;Mic;Freq\nThe Examples;lead;482,5\nThe Examples;harmony;482,5\nOthers;host;\n"
    Path("acts.csv").write_text(text)
    study_fields["requests"] = {
        "file": "acts.csv",
        "columns": {"party": "Act", "link": "Mic", "wanted": "Freq"},
        "defaults": {"zone": "hall", "profile": "hand"},
        "prefix_party": True,
        "decimal": ",",
    }
    Path("study.json").write_text(json.dumps(study_fields))
    command = ["plan", "study.json", "--out", "plan.json", "--iterations", "5000", "--quiet"]
    assert main(command) == 0
    said = capsys.readouterr().out
    assert "Requests: 1 granted, 1 moved, 1 served" in said
    assert "The Examples harmony (The Examples): moved to" in said
    assert main(["parties", "plan.json", "--out", "sheets"]) == 0
    said = capsys.readouterr().out
    assert "6 files for 2 parties and the links without a party in sheets" in said
    names = sorted(path.name for path in Path("sheets").iterdir())
    stems = ("Links-without-a-party", "Others", "The-Examples")
    assert names == [f"{stem}.{ending}" for stem in stems for ending in ("csv", "txt")]
    # A sheet never replaces the plan it is made of.
    Path("plan.json").rename("Others.txt")
    before = Path("Others.txt").read_bytes()
    assert main(["parties", "Others.txt", "--out", "."]) == 2
    assert "is the same file as the plan" in capsys.readouterr().err
    assert Path("Others.txt").read_bytes() == before


def test_a_plan_without_parties_has_no_sheets(
    plan_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["parties", str(plan_file), "--out", "sheets"]) == 2
    assert "no link belongs to a party" in capsys.readouterr().err
    assert not Path("sheets").exists()
    assert main(["parties", "gone.json", "--out", str(plan_file)]) == 2
    said = capsys.readouterr().err
    assert "no directory" in said
    assert "no such file" in said


@pytest.mark.parametrize("requests", ["acts.csv", {"file": "acts.csv"}])
def test_an_output_never_replaces_a_file_the_study_reads(
    requests: object,
    study_fields: Fields,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "deep").mkdir()
    monkeypatch.chdir(tmp_path)
    table = Path("deep/acts.csv")
    table.write_text("party,link,zone,profile\nThe Examples,lead,hall,hand\n")
    before = table.read_bytes()
    Path("deep/study.json").write_text(json.dumps({**study_fields, "requests": requests}))
    command = ["plan", "deep/study.json", "--out", "plan.json", "--csv", "deep/acts.csv"]
    assert main(command) == 2
    assert "the same file as acts.csv, which the study reads" in capsys.readouterr().err
    assert table.read_bytes() == before
    assert not Path("plan.json").exists()
