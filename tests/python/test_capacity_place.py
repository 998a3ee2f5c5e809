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


def test_the_picture_tells_what_lies_between_tuning_ranges(fields: dict[str, Any]) -> None:
    # 482-488 MHz, channel 16, is checked and free; channel 15 lies outside all tuning ranges.
    fields["profiles"] = [
        {"name": "low", "class": "narrow-analogue", "ranges": [[470, 475]]},
        {"name": "high", "class": "narrow-analogue", "ranges": [[488, 494]]},
    ]
    found = sidon.Study.from_dict(fields).capacity(iterations=50, what_if=False)
    assert found.spectrum.ranges_hz == ((470 * MHz, 494 * MHz),)
    figure = draw(found)
    assert "15" in {text.get_text() for text in figure.axes[0].texts}
    labels = {text.get_text() for text in figure.legends[0].get_texts()}
    assert "not checked" not in labels
    assert "taken or not allowed, with edge guard" in labels


def test_what_needs_a_licence_is_said_with_the_remedy(fields: dict[str, Any]) -> None:
    fields["profiles"] = [
        {"name": "far", "class": "narrow-analogue", "ranges": [[941.5, 944]]},
        {"name": "hand", "class": "narrow-analogue", "ranges": [[470, 500]]},
    ]
    fields["availability"]["confirmed"] = ["941-960 MHz, licensed"]
    found = sidon.Study.from_dict(fields).capacity(iterations=50, what_if=False)
    text = " ".join(found.summary().split())
    assert "not allowed: needs a licence (941-960 MHz, licensed; say licensed = true" in text
    fields["availability"]["licensed"] = True
    found = sidon.Study.from_dict(fields).capacity(iterations=50, what_if=False)
    assert "needs a licence" not in found.summary()
    assert found.rows[0].fits


def test_limits_of_the_region_are_compared(fields: dict[str, Any]) -> None:
    # Unlicensed, 200 kHz and 50 mW EIRP in the TV channels (47 CFR 15.236); the class is invented.
    del fields["profiles"]
    wide = ["wide-digital", "narrow-analogue"]
    found = sidon.Study.from_dict(fields).capacity(iterations=80, what_if=False, classes=wide)
    checks = {(row.profile, row.band): row.check for row in found.rows}
    assert checks["wide-digital", "470-534"] == "wider than the 0.2 MHz allowed here"
    assert checks["narrow-analogue", "470-506"] == ""
    # Channel 36 ends at 608 MHz; guard band and duplex gap: 20 mW, no limit of bandwidth (ibid.).
    assert checks["wide-digital", "606-694"] == (
        "wider than the 0.2 MHz allowed here in 606-608; "
        "set it to the 20 mW allowed here in 614-616, 657-663; it has up to 50 mW"
    )
    text = " ".join(found.summary().split())
    assert "comfortable; check" in text
    assert "wide-digital 470-534, 534-608: wider than the 0.2 MHz allowed here" in text
    assert "at most 0.2 MHz wide and 50 mW EIRP" in text
    # What is too wide is not recommended.
    assert "wide-digital 470-534 (" not in text
    assert "narrow-analogue 506-542 (" in text


def test_the_carriers_to_tune_keep_away_from_what_is_taken(fields: dict[str, Any]) -> None:
    del fields["profiles"]
    fields["capacity"] |= {"ask": 3, "spares": 0}
    found = sidon.Study.from_dict(fields).capacity(
        iterations=80, what_if=False, classes=["narrow-analogue"]
    )
    lines = found.summary().splitlines()
    at = next(i for i, line in enumerate(lines) if "to tune (MHz): " in line)
    tuned = [float(hz) * 1e6 for hz in lines[at].split(": ")[1].split(", ")]
    assert len(tuned) == 3

    def clearance(hz: float) -> float:
        return min(max(a - hz, hz - b) for a, b, _ in found.spectrum.taken)

    name = lines[at].split(",")[0].split()[1]
    row = next(r for r in found.rows if r.band == name)
    best = sorted(map(clearance, row.frequencies_hz), reverse=True)[:3]
    assert sorted(map(clearance, tuned), reverse=True) == best
