"""The command `sidon sweep`, as a user runs it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sidon.cli import main
from sidon.demo import study_text
from sidon.plan import Plan

VARY = """
["what if"."as it is"]
["what if"."channel 29 on air"]
"availability.occupied+" = [29]
["what if"."little left"]
"availability.occupied+" = [14, 18, 21, 24, 25, 26]
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = tmp_path / "grounds.toml"
    path.write_text(study_text(), encoding="utf-8")
    return path


def test_a_table_and_every_plan_are_written(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    vary, table, plans = tmp_path / "vary.toml", tmp_path / "table.csv", tmp_path / "plans"
    vary.write_text(VARY, encoding="utf-8")
    code = main(
        f"sweep {study} --vary {vary} --seeds 3-4 --iterations 3000 --csv {table} --plans {plans} "
        "--workers 2".split()
    )
    assert code == 1  # one setting leaves hardly any spectrum
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    settings = ["as it is"] * 2 + ["channel 29 on air"] * 2 + ["little left"] * 2
    assert [row["what if"] for row in rows] == settings
    assert [row["complete"] for row in rows] == ["True"] * 4 + ["False"] * 2
    files = sorted(plans.iterdir())
    assert files[0].name == "0001-as-it-is-seed-3.json"
    assert len(files) == 6
    for path in files:
        assert Plan.from_json(path).check().hard == 0
    shown = capsys.readouterr()
    assert "6 of 6" in shown.err
    assert "as it is, seed 3: 64 of 64 required links" in shown.out


def test_all_faults_come_in_one_report(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    vary = tmp_path / "vary.toml"
    vary.write_text('axis = 3\n["what if"]\nplain = 7\n', encoding="utf-8")
    code = main(
        f"sweep {study} {tmp_path / 'none.toml'} --vary {vary} --seeds 9-1 --csv {study} "
        "--workers many --seconds soon".split()
    )
    assert code == 2
    text = capsys.readouterr().err
    for part in ("--seeds", "--workers", "--seconds", "axis", "what if", "none.toml", "same file"):
        assert part in text, part
    assert study.read_text(encoding="utf-8") == study_text()
