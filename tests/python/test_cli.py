"""The command line: what it writes, what it says, and how it ends."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.cli import main
from sidon.cli.progress import Progress

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
    assert "served 13 of 13 links" in said.err
    assert sidon.Plan.from_json(out).document.seed == 3
    assert table.is_file()
    assert picture.is_file()
    assert main(["check", str(out)]) == 0
    assert "14 carriers recounted from the plan alone, no rule broken" in capsys.readouterr().out


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
    assert "Required links are refused" in capsys.readouterr().out


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
        (["check", "none.json"], "none.json"),
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


@pytest.mark.skipif(os.name == "nt", reason="SIGINT cannot be sent to a process on Windows")
def test_ctrl_c_keeps_the_best_plan_so_far(study_fields: Fields, tmp_path: Path) -> None:
    study_fields["demand"][2]["count"] = 40  # cannot be served, so that the search goes on
    path, out = tmp_path / "study.json", tmp_path / "plan.json"
    path.write_text(json.dumps(study_fields), encoding="utf-8")
    command = [sys.executable, "-c", "import sys; from sidon.cli import main; sys.exit(main())"]
    with subprocess.Popen(
        [*command, "plan", str(path), "--out", str(out), "--seconds", "100"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        assert "served" in process.stderr.readline()
        process.send_signal(signal.SIGINT)
        said, complaint = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "ended: interrupted" in said
    assert "best plan so far" in complaint
    plan = sidon.Plan.from_json(out)
    assert plan.stop_reason == "interrupted"
    assert plan.check().hard == 0
    assert len(plan.assignments) >= 10


@dataclass(frozen=True)
class At:
    """What a search tells about one moment."""

    time_s: float
    refused: int
    unserved: int = 0
    hard: int = 0


class Terminal(io.StringIO):
    """A stream that takes itself for a terminal."""

    def isatty(self) -> bool:
        """Say so."""
        return True


def test_progress_renews_one_line_on_a_terminal() -> None:
    screen = Terminal()
    progress = Progress(screen, asked=10)
    for moment in (At(0.0, 9, 9), At(0.2, 2, 2), At(0.4, 5, 5), At(0.6, 0, 0)):
        assert progress(moment) is False
    progress.close()
    lines = screen.getvalue().rstrip("\n").split("\r")[1:]
    assert [line.split("served ")[1][:7].strip() for line in lines] == [
        "1 of 10",
        "8 of 10",
        "8 of 10",
        "10 of 1",
    ]
    assert screen.getvalue().count("\n") == 1


def test_progress_elsewhere_is_a_line_per_improvement_and_the_last_is_never_lost() -> None:
    log = io.StringIO()
    progress = Progress(log, asked=10)
    for moment in (At(0.0, 9, 9), At(0.1, 5, 5), At(0.2, 1, 1), At(0.9, 4, 4)):
        progress(moment)
    progress.close()
    lines = log.getvalue().splitlines()
    assert [line.split("served ")[1].split(" links")[0] for line in lines] == ["1 of 10", "9 of 10"]
