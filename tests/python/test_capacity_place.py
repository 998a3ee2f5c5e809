"""How many fit where a region and TV stations say what is free."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from capacity_cases import question

import sidon
from sidon import MHz
from sidon.demo import stations_text
from sidon.view.capacity import draw


@pytest.fixture
def fields(tmp_path: Path) -> dict[str, Any]:
    """Ask for microphones on an island that does not exist, among stations that do not."""
    (tmp_path / "stations.csv").write_text(stations_text(), encoding="utf-8")
    return {
        "format": "sidon-study/1",
        "name": "Island (invented)",
        "place": {"name": "Island (invented)", "latitude": 0.0, "longitude": -30.0},
        "availability": {
            "region": "us",
            "stations": str(tmp_path / "stations.csv"),
            "source": "invented",
            "as_of": "2031-05-01",
        },
        "profiles": [
            {"name": "hand", "class": "narrow-analogue", "ranges": [[470, 500]]},
            {"name": "old", "class": "narrow-analogue", "ranges": [[620, 650]]},
            {"name": "dark", "class": "narrow-analogue", "ranges": [[940, 941]]},
        ],
        "capacity": {"ask": 4, "channels": [17, 15], "waive": []},
    }


def test_what_stations_block_is_not_counted(fields: dict[str, Any]) -> None:
    found = sidon.Study.from_dict(fields).capacity(iterations=400)
    rows = {row.profile: row for row in found.rows}
    hand = rows["hand"]
    # Channel 15, 476-482 MHz, is inside a contour; half a megahertz is kept from it.
    assert hand.free_hz == (475.5 - 470 + 499.5 - 482.5) * MHz
    assert not any(hz + 100e3 > 475.5e6 and hz - 100e3 < 482.5e6 for hz in hand.frequencies_hz)
    assert hand.verdict == "comfortable"
    cases = {c.case: c for c in found.what_ifs if c.profile == "hand"}
    # 15 is on the air already.
    assert list(cases) == ["channel 17 on the air", "edge guard 0.250 MHz", "edge guard 1.000 MHz"]
    assert cases["channel 17 on the air"].change < 0
    assert cases["edge guard 1.000 MHz"].change <= 0 <= cases["edge guard 0.250 MHz"].change


def test_not_allowed_is_told_from_not_checked(fields: dict[str, Any]) -> None:
    found = sidon.Study.from_dict(fields).capacity(iterations=50, what_if=False)
    rows = {row.profile: row for row in found.rows}
    assert rows["old"].verdict == "too few"
    assert "not allowed: mobile broadband" in rows["old"].reason
    assert rows["dark"].verdict == "cannot be told: not checked spectrum"
    assert not found.enough
    assert any("Region 'us'" in note for note in found.notes)
    assert any("2031-05-01" in note for note in found.notes)


def test_the_picture_numbers_channels_and_not_the_guards_beside_them(
    fields: dict[str, Any],
) -> None:
    found = sidon.Study.from_dict(fields).capacity(iterations=50, what_if=False)
    numbers = {text.get_text() for axes in draw(found).axes[:-1] for text in axes.texts}
    # 19 begins at 500 MHz, with its guard below; 14, 16 and 18 hold guards and are not on the air.
    assert {text for text in numbers if text.isdecimal()} == {"15", "19"}


def test_channels_to_try_are_those_of_the_region(fields: dict[str, Any]) -> None:
    fields["capacity"]["channels"] = [17, "9A"]
    with pytest.raises(sidon.StudyError, match="channel 9A is not on the raster"):
        sidon.Study.from_dict(fields)


def test_what_a_scan_found_is_not_counted(tmp_path: Path) -> None:
    # 30 dB above the floor up to 471.5 MHz, in an invented sweep of the one free channel.
    levels = {470 + i / 40: -80 if i <= 60 else -110 for i in range(241)}
    lines = ["MHz,dBm", *(f"{mhz:.3f},{dbm}" for mhz, dbm in levels.items())]
    (tmp_path / "desk.csv").write_text("\n".join(lines), encoding="utf-8")
    fields = question()
    before = sidon.Study.from_dict(fields).capacity(iterations=200, what_if=False).rows[0]
    fields["availability"]["scans"] = [{"file": str(tmp_path / "desk.csv"), "use": "exclude"}]
    found = sidon.Study.from_dict(fields).capacity(iterations=200, what_if=False)
    (row,) = found.rows
    assert row.fits < before.fits
    assert row.free_hz < before.free_hz
    assert min(row.frequencies_hz) > 471.6e6
    assert any("scan" in label for _, _, label in found.spectrum.taken)
