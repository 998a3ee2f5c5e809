"""The command line: what it writes, what it says, and how it ends."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.cli import main

Fields = dict[str, Any]


@pytest.fixture
def study_file(study_fields: Fields, tmp_path: Path) -> Path:
    path = tmp_path / "study.json"
    path.write_text(json.dumps(study_fields), encoding="utf-8")
    return path


def test_plans_writes_and_checks(
    study_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, table, picture = (tmp_path / name for name in ("plan.json", "plan.csv", "plan.svg"))
    arguments = ["plan", str(study_file), "--out", str(out), "--csv", str(table)]
    assert main([*arguments, "--picture", str(picture), "--seed", "3"]) == 0
    said = capsys.readouterr()
    assert "Served 10 of 10 required links and 3 of 3 spares" in said.out
    assert "no rule broken" in said.out
    assert "scan on site" in said.out
    assert "hearing" in said.out
    assert "served 13 of 13, refused 0 required + 0 spare" in said.err
    assert sidon.Plan.from_json(out).document.seed == 3
    assert table.is_file()
    assert picture.is_file()
    assert main(["check", str(out)]) == 0
    assert (
        "13 links and 1 foreign carrier recounted from the plan alone, no rule broken"
        in capsys.readouterr().out
    )


def test_quiet_says_nothing_beside_the_result(
    study_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(study_file), "--out", str(tmp_path / "p.json"), "--quiet"]) == 0
    assert capsys.readouterr().err == ""


def test_a_required_link_refused_is_exit_code_1(
    study_fields: Fields, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study_fields["demand"][2]["count"] = 40
    path, out = tmp_path / "study.json", tmp_path / "plan.json"
    path.write_text(json.dumps(study_fields), encoding="utf-8")
    assert main(["plan", str(path), "--out", str(out), "--iterations", "500"]) == 1
    assert "Refused:" in capsys.readouterr().out
    assert out.is_file()
    assert main(["check", str(out)]) == 1
    missing = sidon.Plan.from_json(out).missing
    said = capsys.readouterr().out
    assert f"{len(missing)} required links have no carrier: {', '.join(missing)}" in said
    assert "Refused:" in said


def test_an_assignment_deleted_from_the_file_is_exit_code_1(
    small_plan: sidon.Plan, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fields = small_plan.to_dict()
    path = tmp_path / "plan.json"
    del fields["assignments"][0]
    path.write_text(json.dumps(fields), encoding="utf-8")
    assert main(["check", str(path)]) == 1
    assert "1 required link has no carrier: vox-1\n" in capsys.readouterr().out
    del fields["assignments"][0]
    path.write_text(json.dumps(fields), encoding="utf-8")
    assert main(["check", str(path)]) == 1
    assert "2 required links have no carrier: vox-1, vox-2\n" in capsys.readouterr().out


def test_a_missing_spare_alone_is_exit_code_0(study_fields: Fields, tmp_path: Path) -> None:
    study_fields["demand"][2]["spares"] = 30
    path, out = tmp_path / "study.json", tmp_path / "plan.json"
    path.write_text(json.dumps(study_fields), encoding="utf-8")
    assert main(["plan", str(path), "--out", str(out), "--iterations", "500", "--quiet"]) == 0
    plan = sidon.Plan.from_json(out)
    assert plan.refused
    assert all(row.spare for row in plan.refused)


def test_a_broken_rule_is_exit_code_1(
    small_plan: sidon.Plan, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fields = small_plan.to_dict()
    fields["assignments"][1]["frequency_hz"] = fields["assignments"][0]["frequency_hz"]
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(fields), encoding="utf-8")
    assert main(["check", str(path)]) == 1
    said = capsys.readouterr().out
    assert "the check failed" in said
    assert "vox-2" in said


def test_bad_input_is_exit_code_2_with_all_faults(
    study_fields: Fields, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study_fields["profiles"][0]["seperation"] = 1
    study_fields["demand"][0]["zone"] = "attic"
    path, out = tmp_path / "study.json", tmp_path / "plan.json"
    path.write_text(json.dumps(study_fields), encoding="utf-8")
    assert main(["plan", str(path), "--out", str(out)]) == 2
    said = capsys.readouterr().err
    assert "profiles[0].seperation" in said
    assert "did you mean 'separation'?" in said
    assert "demand[0].zone" in said
    assert not out.exists()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["plan", "none.toml", "--out", "p.json"], "none.toml"),
        (["plan", "{study}", "--out", "missing/p.json"], "does not exist"),
        (["plan", "{study}", "--out", "."], "is a directory"),
        (["plan", "{study}", "--out", "p.json", "--picture", "p.doc"], ".png, .pdf, .svg"),
        (["plan", "{study}", "--out", "p.json", "--seed", "-1"], "seed"),
        (["plan", "{study}", "--out", "p.json", "--seconds", "nan"], "seconds"),
        (["plan", "{study}", "--out", "p.json", "--seconds", "0"], "seconds"),
        (["plan", "{study}", "--out", "p.json", "--iterations", "0"], "iterations"),
        (["plan", "{study}", "--out", "p.json", "--threads", "0"], "threads"),
        (["plan", "{study}", "--out", "p.json", "--seed", "one"], "not a whole number"),
        (["plan", "{study}", "--out", "p.json", "--seconds", "5s"], "not a number"),
        (["plan", ".", "--out", "p.json"], "it is a directory; name the study file in it"),
        (["plan", "none.toml", "--out", "p.json"], "there is no such file; check the name"),
        (["check", "none.json"], "none.json"),
        (["check", "."], "it is a directory; name the file in it"),
        (["check", "{study}"], "sidon-plan/1"),
    ],
)
def test_bad_arguments_are_exit_code_2(
    study_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    message: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([text.format(study=study_file) for text in arguments]) == 2
    assert message in capsys.readouterr().err
    assert sorted(tmp_path.iterdir()) == [study_file]


@pytest.mark.parametrize("arguments", [[], ["paln"], ["plan"], ["plan", "s", "--sead", "1"]])
def test_what_it_does_not_understand_is_exit_code_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        main(arguments)
    assert caught.value.code == 2
    assert "usage" in capsys.readouterr().err


def test_says_its_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["--version"])
    assert caught.value.code == 0
    assert sidon.versions()["sidon"] in capsys.readouterr().out


def test_help_explains_the_exit_codes(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", "--help"])
    assert "130" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("command", "meant", "missing"),
    [
        ("plan", "every required link is served", "--what-if"),
        ("picture", "drawn", "required link"),
        ("parties", "the sheets are written", "required link"),
        ("diff", "whether they differ or not", "required link"),
        ("alternatives", "there is none", "required link"),
        ("spares", "every move to a spare is clean", "required link"),
        ("explain", "what stands in the way is told", "--all-refusals"),
        ("sweep", "every case has a plan", "--all-refusals"),
        ("repair", "with --what-if: nothing would break", "--cluster"),
    ],
)
def test_help_tells_each_command_by_itself(
    command: str, meant: str, missing: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    said = capsys.readouterr().out
    assert meant in said
    assert missing not in said
