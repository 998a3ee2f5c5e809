"""The demonstration: an invented weekend, all served with spares."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import sidon
from sidon.cli import main
from sidon.demo import study_text


@pytest.fixture(scope="module")
def study() -> sidon.Study:
    return sidon.Study.from_toml_text(study_text())


def test_is_as_large_as_a_weekend_with_three_stages(study: sidon.Study) -> None:
    model = study.model
    assert len(model.zones) == 3
    assert sum(row.size for row in model.demand) >= 60
    assert all(row.spare_count * 5 >= row.size for row in model.demand)  # 20 %
    kinds = " ".join(profile.kind for profile in model.profiles)
    for kind in ("analogue handheld", "digital handheld", "body pack", "in-ear"):
        assert kind in kinds


def test_the_band_is_part_occupied(study: sidon.Study) -> None:
    availability = study.model.availability
    raster = availability.tv_raster
    assert raster is not None
    # US UHF channels after the repack, 47 CFR 73.603: 14 is 470-476 MHz, 36 is 602-608 MHz.
    assert raster.channel(14) == (470_000_000, 476_000_000)
    assert raster.channel(36) == (602_000_000, 608_000_000)
    assert 0.35 <= len(availability.occupied) / 23 <= 0.45


def test_says_that_it_is_invented() -> None:
    text = study_text()
    assert "invented" in text.splitlines()[0].lower()
    assert "invented" in tomllib.loads(text)["name"]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_serves_every_link_and_spare(study: sidon.Study, seed: int) -> None:
    plan = study.plan(seed=seed, iterations=50_000)
    assert plan.refused == []
    assert plan.check().hard == 0
    assert len(plan.hits()["form"]) == 0


def test_the_command_writes_everything(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    directory = tmp_path / "new" / "demo"
    assert main(["demo", "--out", str(directory), "--quiet"]) == 0
    said = capsys.readouterr().out
    assert "invented" in said
    assert "hearing" in said
    names = ["plan.csv", "plan.json", "spectrum.png", "study.toml"]
    assert sorted(path.name for path in directory.iterdir()) == names
    assert sidon.Study.from_file(directory / "study.toml").asked >= 60
    assert sidon.Plan.from_json(directory / "plan.json").check().hard == 0
    first = {path.name: path.read_bytes() for path in directory.iterdir()}
    assert main(["demo", "--out", str(directory), "--quiet", "--threads", "1"]) == 0
    assert {path.name: path.read_bytes() for path in directory.iterdir()} == first
