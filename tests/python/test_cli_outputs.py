"""What the command line writes replaces no input, no other output, and nothing but files."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.cli import main
from sidon.demo import study_text

Fields = dict[str, Any]


@pytest.fixture
def study_file(study_fields: Fields, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "study.json"
    path.write_text(json.dumps(study_fields), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ("--out study.json", "--out: study.json is the same file as the study"),
        ("--out ./sub/../study.json", "is the same file as the study"),
        ("--out link.json", "--out: link.json is the same file as the study"),
        ("--out p.json --csv study.json", "--csv: study.json is the same file as the study"),
        ("--out x --csv x", "--csv: x is the same file as --out"),
        ("--out x.png --picture x.png", "--picture: x.png is the same file as --out"),
        ("--out p.json --csv x.svg --picture x.svg", "--picture: x.svg is the same file as --csv"),
        ("--out hard.json", "--out: hard.json is the same file as the study"),
    ],
)
def test_an_output_never_replaces_an_input_or_another_output(
    study_file: Path, capsys: pytest.CaptureFixture[str], arguments: str, message: str
) -> None:
    Path("sub").mkdir()
    Path("link.json").symlink_to(study_file)
    Path("hard.json").hardlink_to(study_file)
    before = study_file.read_bytes(), sorted(Path().iterdir())
    assert main(["plan", "study.json", *arguments.split()]) == 2
    said = capsys.readouterr().err
    assert message in said
    assert "give every output a name of its own" in said
    assert (study_file.read_bytes(), sorted(Path().iterdir())) == before


def test_what_is_no_regular_file_is_refused_before_the_search(
    study_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo("pipe")
    Path("directory").mkdir()
    Path("link").symlink_to("pipe")
    for name, kind in (("pipe", "a named pipe"), ("directory", "a directory")):
        assert main(["plan", "study.json", "--out", name]) == 2
        assert f"--out: {name} is {kind}; name a regular file" in capsys.readouterr().err
    assert main(["plan", "study.json", "--out", "link"]) == 2
    assert Path("pipe").is_fifo()
    assert Path("link").is_symlink()


def test_a_link_to_a_file_is_followed(study_file: Path) -> None:
    Path("link.json").symlink_to("target.json")
    assert main(["plan", "study.json", "--out", "link.json", "--quiet"]) == 0
    assert Path("link.json").is_symlink()
    assert sidon.Plan.from_json("target.json").complete


def test_all_faults_of_the_arguments_and_the_study_come_in_one_report(
    study_file: Path, study_fields: Fields, capsys: pytest.CaptureFixture[str]
) -> None:
    study_fields["demand"][0]["zone"] = "attic"
    study_file.write_text(json.dumps(study_fields), encoding="utf-8")
    command = "plan study.json --out missing/p.json --csv study.json --picture p.doc"
    numbers = "--seed -1 --seconds soon --iterations 0 --threads 1.5"
    assert main([*command.split(), *numbers.split()]) == 2
    said = capsys.readouterr().err
    assert "8 faults" in said
    for place in ("--out", "--csv", "--picture", "--seed", "--seconds", "--iterations"):
        assert f"\n  {place}: " in said
    assert "--threads: '1.5' is not a whole number" in said
    assert "demand[0].zone: the zone 'attic' is not defined" in said


def test_the_demonstration_keeps_a_study_that_is_not_its_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "study.toml"
    own.write_text(study_text() + "# mine\n", encoding="utf-8")
    assert main(["demo", "--out", str(tmp_path), "--quiet"]) == 2
    said = capsys.readouterr().err
    assert "would be lost" in said
    assert "name another directory" in said
    assert own.read_text(encoding="utf-8").endswith("# mine\n")
    assert list(tmp_path.iterdir()) == [own]


def test_the_demonstration_refuses_what_is_no_directory(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "file"
    file.write_text("mine", encoding="utf-8")
    for directory in (file, file / "below"):
        assert main(["demo", "--out", str(directory), "--seed", "x"]) == 2
        said = capsys.readouterr().err
        assert f"{file} is no directory; name a directory" in said
        assert "--seed" in said
    (tmp_path / "plan.csv").mkdir()
    assert main(["demo", "--out", str(tmp_path)]) == 2
    assert "plan.csv is a directory" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "mine"
