"""The README runs: its Python, its study, its commands, its picture."""

from __future__ import annotations

import inspect
import re
import shlex
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.cli import main
from sidon.demo import study_text

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def commands() -> list[list[str]]:
    lines = [
        part for block in blocks("bash") for line in block.splitlines() for part in line.split("&&")
    ]
    return [shlex.split(line) for line in lines]


def test_the_python_runs(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    plan, change, many, largest, heuristic = blocks("python")
    exec(compile(plan, "README.md", "exec"), {"__name__": "readme"})
    said = capsys.readouterr().out
    assert "Served 64 of 64 required links and 17 of 17 spares" in said
    assert said.splitlines()[-1] == "12 0"
    assert sidon.Plan.from_json(tmp_path / "plan.json").check().hard == 0
    exec(compile(change, "README.md", "exec"), {"__name__": "readme"})
    said = capsys.readouterr().out
    assert "ears-1 stands on " in said
    assert "ears-1: retune to " in said
    assert said.splitlines()[-1].endswith(" True True")
    exec(compile(many, "README.md", "exec"), {"__name__": "readme"})
    said = capsys.readouterr().out
    assert "channel 29 comes on air 81 links on the air" in said
    assert said.splitlines()[-1] == "[64 64 64 64]"
    exec(compile(largest, "README.md", "exec"), {"__name__": "readme"})
    assert capsys.readouterr().out == "9 9 optimal\n"
    names: dict[str, Any] = {"__name__": "readme"}
    exec(compile(heuristic, "README.md", "exec"), names)
    assert capsys.readouterr().out == "12 0 interrupted\n"
    assert names["result"].soft <= 45


@pytest.mark.parametrize("text", blocks("toml")[1:])
def test_the_study_is_sound_and_is_served(text: str) -> None:
    plan = sidon.Study.from_toml_text(text).plan(seed=1, iterations=20_000)
    assert plan.refused == []
    assert len(plan.assignments) == 10


def test_the_commands_for_an_event_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("weekend.toml").write_text(blocks("toml")[1], encoding="utf-8")
    own = [command[1:] for command in commands() if command[0] == "sidon"]
    own = [command for command in own if command[0] != "capacity"]
    assert [command[0] for command in own] == [
        "plan",
        "check",
        "alternatives",
        "repair",
        "diff",
        "spares",
    ]
    for command in own:
        assert main(command) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "plan.csv",
        "plan.json",
        "spectrum.png",
        "tonight.json",
        "weekend.toml",
    ]


def test_the_enquiry_is_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("enquiry.toml").write_text(blocks("toml")[0], encoding="utf-8")
    (command,) = [command[1:] for command in commands() if command[:2] == ["sidon", "capacity"]]
    assert main([*command, "--quiet"]) == 0
    assert "15 microphones, spares included: dense-digital" in capsys.readouterr().out
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "capacity.csv",
        "capacity.png",
        "enquiry.toml",
    ]


def test_every_command_is_told_of(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    named = set(re.findall(r"^    (\w+)", capsys.readouterr().out, re.MULTILINE))
    assert {"plan", "sweep"} < named
    way = README[README.index("## The way of the work") : README.index("## Where, and how many")]
    for name in named - {"demo"}:
        assert re.search(rf"`(sidon )?{name}`", way), name


def test_the_way_leads_to_sections_that_exist() -> None:
    headings = re.findall(r"^## (.*)$", README, re.MULTILINE)
    anchors = {re.sub(r"[^a-z ]", "", heading.lower()).replace(" ", "-") for heading in headings}
    assert set(re.findall(r"\]\(#([^)]+)\)", README)) <= anchors


def test_the_main_job_is_the_demonstration() -> None:
    assert [".venv/bin/sidon", "demo", "--out", "demo"] in commands()
    assert ["bash", "tests/run"] in commands()
    assert (ROOT / "tests" / "run").is_file()


def test_the_demonstration_is_as_large_as_it_says() -> None:
    demand = sidon.Study.from_toml_text(study_text()).model.demand
    required, spares = sum(row.size for row in demand), sum(row.spare_count for row in demand)
    assert f"{required} links and {spares} spares" in README


def test_the_demonstration_shows_every_further_key() -> None:
    table = README[README.index("Further keys") : README.index("Guards may name")]
    cells = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
    keys = [key.split(".")[-1] for cell in cells for key in re.findall(r"`([a-z_.]+)`", cell)]
    assert {"default_coupling", "preferred", "raster_origin", "mixes", "as_of"} <= set(keys)
    for key in keys:
        assert re.search(rf"^\[*([a-z]+\.)?{key}\b", study_text(), re.MULTILINE), key


def test_the_default_seed_is_one_and_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("plan", "demo"):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        assert "random seed (default 0)" in capsys.readouterr().out
    assert "the default seed is 0" in README
    assert inspect.signature(sidon.Study.plan).parameters["seed"].default == 0
    assert inspect.signature(sidon.solve).parameters["seed"].default == 0


@pytest.mark.parametrize("target", re.findall(r"\]\(([^)#:]+)\)", README))
def test_what_it_links_to_exists(target: str) -> None:
    assert (ROOT / target).exists()


def test_it_shows_the_cautions() -> None:
    for word in ("scan on site", "Licences", "limiter", "invented"):
        assert word in README
