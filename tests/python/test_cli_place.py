"""`sidon place`: a table in words, CSV and picture; bad input in one report."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from matplotlib.patches import Rectangle

import sidon
from sidon.cli import main
from sidon.demo import place_text, stations_text, study_text
from sidon.view.place import place, save_place


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """Write the invented place with its stations beside it."""
    path = tmp_path / "place.toml"
    path.write_text(place_text())
    (tmp_path / "stations.csv").write_text(stations_text())
    return path


def test_from_stations_to_a_plan(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table, picture = tmp_path / "place.csv", tmp_path / "place.png"
    code = main(["place", str(study), "--csv", str(table), "--picture", str(picture)])
    out = capsys.readouterr().out
    assert code == 0
    assert "List of 9 stations: invented, 2031-05-01" in out
    assert "co-channel" in out
    assert "Estimates, not permissions" in out
    assert f"Written: {table}, {picture}" in out
    rows = {
        row["channel"]: row
        for row in csv.DictReader(io.StringIO(table.read_text()))
        if row["channel"]
    }
    assert rows["15"]["status"] == "blocked"
    assert rows["15"]["source"] == "invented"
    assert picture.read_bytes().startswith(b"\x89PNG")
    plan = sidon.Study.from_file(study).plan(seed=1, iterations=20_000)
    plan.check()
    assert plan.complete
    assert len(plan.assignments) == 20
    blocked = [row for row in rows.values() if row["status"] == "blocked"]
    for row in blocked:
        low, high = float(row["low_mhz"]), float(row["high_mhz"])
        # Half a megahertz, and half of the bandwidth of 200 kHz.
        assert not any(low - 0.6 < a.frequency_hz / 1e6 < high + 0.6 for a in plan.assignments)


def test_all_faults_come_together(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (tmp_path / "stations.csv").read_text().replace("East,19,", "East,99,")
    (tmp_path / "stations.csv").write_text(text)
    code = main(["place", str(study), "--csv", str(study), "--picture", "p.gif"])
    error = capsys.readouterr().err
    assert code == 2
    assert "'us' has no channel '99'" in error
    assert "same file as the study" in error
    assert "does not say what to draw" in error


def test_a_study_without_a_region(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "study.toml"
    path.write_text(study_text())
    assert main(["place", str(path)]) == 2
    assert "names no region; add availability.region" in capsys.readouterr().err


def test_the_picture_shows_status_and_fields(study: Path) -> None:
    report = sidon.Study.from_file(study).place_report()
    figure = place(report, title="Invented")
    low, high, uhf = figure.axes
    assert uhf.get_xlabel() == "frequency (MHz)"
    texts = {text.get_text() for text in uhf.texts}
    assert {"14", "36", f"{report.channel(15).reach.margin_km:+.0f}"} <= texts  # type: ignore[union-attr]
    # No station in the lower band: nothing is measured there.
    assert list(low.get_yticks()) == []
    assert high.get_ylabel() == "field (dBuV/m)"
    hatches = {patch.get_hatch() for patch in uhf.patches if isinstance(patch, Rectangle)}
    assert {"xx", ".."} <= hatches
    labels = [text.get_text() for text in figure.legends[0].get_texts()]
    assert labels[:3] == ["usable", "usable, guard beside TV", "blocked by TV"]
    assert "not allowed" not in labels
    assert "Estimates, not permissions" in figure.get_suptitle()


def test_a_name_with_signs_of_mathematics_is_drawn_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "place.svg"
    save_place(sidon.place_report("us", occupied=[]), path, title="$5 stage_{1 $")
    assert path.read_text().startswith("<?xml")


def test_pictures_of_other_regions(tmp_path: Path) -> None:
    for name in ("ge06", "australia", "japan"):
        save_place(sidon.place_report(name, occupied=[30]), tmp_path / f"{name}.svg")
    bare = sidon.region("us").model_copy(update={"rasters": [], "services": []})
    figure = place(sidon.place_report(bare))
    assert "no TV channels" in figure.axes[0].texts[0].get_text()
    with pytest.raises(ValueError, match="cannot draw 'gif'"):
        save_place(sidon.place_report("us"), tmp_path / "place.gif")
