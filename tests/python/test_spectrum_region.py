"""Regions: rasters, rules with date and source, and a file of one's own."""

from __future__ import annotations

import datetime as dt
import itertools
from pathlib import Path

import pytest

import sidon
from sidon.spectrum import region_names
from sidon.spectrum.region import read_region

MHz = sidon.MHz

OWN = """
format = "sidon-region/1"
name = "atoll"
title = "An invented atoll"
caution = "Invented."

[[rasters]]
band = "UHF"
channels = ["30", "31", "31A"]
first_edge = 500
width = "8 MHz"
as_of = 2031-01-01
source = "invented"
checked = true

[[bands]]
name = "500-524 MHz"
ranges = [[500, 524]]
basis = "licence-exempt"
who = "anyone"
power_mw = 10
power_is = "ERP"
as_of = 2031-01-01
source = "invented"
checked = true
"""


@pytest.mark.parametrize(
    ("region", "name", "low", "high"),
    [
        # 47 CFR 73.603.
        ("us", "2", 54, 60),
        ("us", "4", 66, 72),
        ("us", "5", 76, 82),
        ("us", "6", 82, 88),
        ("us", "7", 174, 180),
        ("us", "13", 210, 216),
        ("us", "14", 470, 476),
        ("us", "36", 602, 608),
        # GE06 band edges: centre 474 + 8 (n - 21), band III centre 177.5 + 7 (n - 5).
        ("ge06", "5", 174, 181),
        ("ge06", "12", 223, 230),
        ("ge06", "21", 470, 478),
        ("ge06", "28", 526, 534),
        ("ge06", "38", 606, 614),
        ("ge06", "48", 686, 694),
        # Broadcast scan tables: centres 177.5, 205.5 (9A), 529.5, 690.5.
        ("australia", "6", 174, 181),
        ("australia", "9A", 202, 209),
        ("australia", "10", 209, 216),
        ("australia", "28", 526, 533),
        ("australia", "44", 638, 645),
        ("australia", "51", 687, 694),
        # Channel list of an open MPEG toolkit.
        ("japan", "13", 470, 476),
        ("japan", "36", 608, 614),
        ("japan", "52", 704, 710),
    ],
)
def test_channels_have_the_published_edges(region: str, name: str, low: int, high: int) -> None:
    channel = sidon.region(region).channel(name)
    assert (channel.low_hz, channel.high_hz) == (low * MHz, high * MHz)
    assert channel.region == region


def test_a_number_means_nothing_without_its_region() -> None:
    us, japan = sidon.region("us"), sidon.region("japan")
    assert us.channel(14).low_hz == japan.channel(13).low_hz != japan.channel(14).low_hz
    with pytest.raises(sidon.StudyError, match="'us' has no channel '37'; use 2 to 4, 5 to 6, 7"):
        us.channel(37)
    with pytest.raises(sidon.StudyError, match="has no channel '9A'"):
        us.channel("9A")


@pytest.mark.parametrize("name", ["us", "ge06", "australia", "japan"])
def test_every_entry_says_where_it_comes_from(name: str) -> None:
    region = sidon.region(name)
    parts = [*region.rasters, *region.bands, *region.reserved, *region.services]
    parts += [region.protection] if region.protection else []
    assert len(parts) > 4
    for part in parts:
        assert part.source
        assert part.as_of > dt.date(2026, 1, 1)
        # What its own source calls a recollection was not seen.
        assert not (part.checked and part.source.lower().startswith("from memory"))
    assert region.caution
    assert name in region_names()
    edges = [(channel.low_hz, channel.high_hz) for channel in region.channels]
    assert all(a[1] <= b[0] for a, b in itertools.pairwise(edges))


def test_rules_of_the_united_states() -> None:
    us = sidon.region("us")
    rules = {band.name: band for band in us.bands}
    tv = rules["TV channels, unlicensed"]
    # 47 CFR 15.236: 50 mW EIRP in TV channels, 20 mW EIRP in guard band and duplex gap.
    assert (tv.power_mw, tv.power_is, tv.basis) == (50, "EIRP", "licence-exempt")
    assert rules["600 MHz guard band"].ranges == [(614 * MHz, 616 * MHz)]
    assert rules["600 MHz duplex gap, unlicensed"].power_mw == 20
    # Thresholds cited in 47 CFR 15.712(a)(1), 74.792 and 73.683.
    fields = {
        s.name: (s.field["VHF low"], s.field["VHF high"], s.field["UHF"]) for s in us.services
    }
    assert fields == {"digital": (28, 36, 41), "low-power": (43, 48, 51), "analogue": (47, 56, 64)}
    # 47 CFR 74.802(b): 4 km outside the contour; indoors below -84 dBm.
    assert us.protection is not None
    assert (us.protection.co_channel_km, us.protection.indoor_dbm) == (4, -84)
    kept = [entry.range for entry in us.reserved]
    assert (608 * MHz, 614 * MHz) in kept
    assert (698 * MHz, 806 * MHz) in kept


def test_a_file_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "atoll.toml"
    path.write_text(OWN)
    region = sidon.region(path)
    assert [channel.name for channel in region.channels] == ["30", "31", "31A"]
    assert region.channel("31A").low_hz == 516 * MHz
    assert sidon.region(str(path)) == region
    assert read_region(region.model_dump(mode="json")) == region
    report = sidon.place_report(region, occupied=[31])
    assert [(entry.channel, entry.status) for entry in report.entries] == [
        ("30", "adjacent"),
        ("31", "blocked"),
        ("31A", "adjacent"),
    ]
    assert sidon.place_report(region).channel(30).status == "not checked"


def test_all_faults_of_a_region_come_together(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    text = OWN.replace('"31A"', '"XY"').replace("checked = true", 'checked = "yes"', 1)
    path.write_text(text.replace("power_is", "power_si").replace("[[500, 524]]", "[[524, 500]]"))
    with pytest.raises(sidon.StudyError) as caught:
        sidon.region(path)
    faults = {fault.place: fault for fault in caught.value.faults}
    assert set(faults) == {
        "bad.toml, rasters[0].channels[2]",
        "bad.toml, rasters[0].checked",
        "bad.toml, bands[0].ranges[0]",
        "bad.toml, bands[0].power_si",
    }
    assert faults["bad.toml, bands[0].power_si"].remedy == "did you mean 'power_is'?"
    path.write_text("a = = 1")
    with pytest.raises(sidon.StudyError, match="it is not TOML"):
        sidon.region(path)


@pytest.mark.parametrize(
    ("was", "becomes", "what"),
    [
        ('["30", "31", "31A"]', '["30", "30"]', "'30' stands twice"),
        ('["30", "31", "31A"]', '"31-30"', "runs backwards"),
        ('["30", "31", "31A"]', '"all"', "no span of channels"),
        (
            "[[bands]]",
            """[[rasters]]
band = "more"
channels = "40-41"
first_edge = 520
width = 8
as_of = 2031-01-01
source = "invented"
checked = true

[[bands]]""",
            "'31A' and '40' overlap",
        ),
        ("power_mw = 10", "", "number and kind"),
        ("format", "nmae = 1\nformat", "unknown"),
    ],
)
def test_contradictions_are_refused(tmp_path: Path, was: str, becomes: str, what: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(OWN.replace(was, becomes, 1))
    with pytest.raises(sidon.StudyError, match=what):
        sidon.region(path)


def test_an_unknown_region_names_the_known_ones() -> None:
    with pytest.raises(sidon.StudyError, match="did you mean 'japan'"):
        sidon.region("jpan")
    with pytest.raises(sidon.StudyError, match="australia, ge06, japan, us"):
        sidon.region("moon")
