"""Status of every channel at a place: blocked, adjacent, usable, not allowed, not checked."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sidon
from sidon import MHz
from sidon.demo import stations_text
from sidon.spectrum.words import csv_text


@pytest.fixture(scope="module")
def stations(tmp_path_factory: pytest.TempPathFactory) -> list[sidon.Station]:
    path = tmp_path_factory.mktemp("demo") / "stations.csv"
    path.write_text(stations_text())
    return sidon.read_stations(path)


@pytest.fixture(scope="module")
def invented(stations: list[sidon.Station]) -> sidon.PlaceReport:
    return sidon.place_report("us", stations, latitude=0, longitude=-30, source="invented")


def status(report: sidon.PlaceReport, *names: str | int) -> list[str]:
    return [report.channel(name).status for name in names]


def one(margin: float, **options: Any) -> sidon.PlaceReport:
    """Report on a place so many km outside the contour of one station on channel 21."""
    row = {"channel": 21, "lat": 0, "lon": -30.5, "erp_kw": 15, "haat_m": 100}
    where = {"latitude": 0.0, "longitude": -30.0}
    # Half a degree of longitude at the equator: 55.660 km (radius 6378.137 km).
    rows = [row | {"contour_km": 55.660 - margin}]
    stations = sidon.read_stations(rows, service="digital")
    return sidon.place_report("us", stations, **(where | options))


def test_from_station_table_to_channel_status(invented: sidon.PlaceReport) -> None:
    assert status(invented, 9, 15, 19, 22, 23, 30, 33) == ["blocked"] * 7
    assert status(invented, 8, 10, 14, 16, 18, 20, 21, 24, 29, 31, 32, 34) == ["adjacent"] * 12
    assert status(invented, 17, 25, 26, 27, 28, 35, 36) == ["usable"] * 7
    fifteen = invented.channel(15)
    assert "inside the contour of 'Invented North'" in fifteen.reason
    assert fifteen.reach is not None
    assert fifteen.reach.margin_km < 0 < fifteen.reach.field_dbuv_m - 41
    assert invented.channel(16).beside == ("15",)
    assert invented.channel(22).beside == ()
    far = invented.channel(27)
    assert far.reach is not None
    assert far.reach.margin_km > 4
    assert far.reach.field_dbuv_m < 41
    # 4.5 km inside by the model, whose contours run up to 30 % long; 15 is inside for certain.
    assert "look this one up" in invented.channel(19).reason
    assert "look this one up" not in fifteen.reason
    assert "look this one up" not in one(-1).channel(21).reason


@pytest.mark.parametrize(
    ("margin", "on", "beside"),
    [
        (-1.0, "blocked", "adjacent"),
        # 47 CFR 15.712(a)(2): 0.4 km from the contour of an adjacent channel.
        (0.3, "blocked", "adjacent"),
        (0.5, "blocked", "usable"),
        # 47 CFR 74.802(b)(1): 4 km from the contour of the same channel.
        (3.99, "blocked", "usable"),
        (4.01, "usable", "usable"),
    ],
)
def test_the_distances_from_the_contour(margin: float, on: str, beside: str) -> None:
    report = one(margin)
    assert status(report, 21, 20, 22, 23) == [on, beside, beside, "usable"]


def test_what_is_not_known_is_not_free() -> None:
    bare = sidon.place_report("us")
    assert {entry.status for entry in bare.entries if entry.channel} == {"not checked"}
    assert "no list of TV stations" in bare.channel(21).reason
    listed = sidon.place_report("us", occupied=[21])
    assert status(listed, 21, 22, 23) == ["blocked", "adjacent", "usable"]
    # A table of another part of the world says nothing about this one.
    elsewhere = one(4.01, latitude=20.0, longitude=-60.0)
    assert status(elsewhere, 20, 21) == ["not checked", "not checked"]
    assert "no UHF station within 300 km" in elsewhere.channel(20).reason


def test_rules_that_were_not_seen_must_be_confirmed() -> None:
    rows = [{"channel": 21, "lat": 0, "lon": -30.1, "erp_kw": 15, "haat_m": 100}]
    stations = sidon.read_stations(rows, service="dvb-t fixed")

    def report(**terms: Any) -> sidon.PlaceReport:
        return sidon.place_report("ge06", stations, latitude=0, longitude=-30, **terms)

    # TV on a channel is known whatever the rules say.
    assert status(report(), 21, 30) == ["blocked", "not allowed"]
    assert "needs a licence" in report().channel(30).reason
    assert status(report(licensed=True), 21, 30) == ["blocked", "not checked"]
    one_more = report(licensed=True, confirmed=["dvb-t fixed"])
    assert "distance from contours" in one_more.channel(30).reason
    whole = report(licensed=True, confirmed=["dvb-t fixed", "protection"])
    assert status(whole, 21, 22, 30) == ["blocked", "adjacent", "usable"]
    assert any("Confirmed by the study" in caution for caution in whole.cautions)
    # Nothing in the region file covers band III, licence or not.
    assert whole.channel(6).status == "not checked"
    assert sidon.place_report("ge06", occupied=[6]).channel(6).status == "blocked"


def test_other_bands_have_their_rule() -> None:
    found = {(e.low_hz, e.high_hz): e for e in sidon.place_report("us").entries if not e.channel}
    assert found[614 * MHz, 616 * MHz].status == "usable"
    assert found[608 * MHz, 614 * MHz].status == "not allowed"
    assert found[653 * MHz, 657 * MHz].status == "not checked"
    assert found[1435 * MHz, 1525 * MHz].status == "not checked"
    assert found[450 * MHz, 451 * MHz].status == "not allowed"
    licensed = sidon.place_report("us", licensed=True, confirmed=["1435-1525 MHz, licensed"])
    assert next(e for e in licensed.entries if e.low_hz == 1435 * MHz).status == "usable"
    assert all(entry.as_of and entry.source for entry in found.values())


def test_indoors_only_a_measurement_frees_a_channel() -> None:
    # 47 CFR 74.802(b)(2): indoors, licensed, TV below -84 dBm over the whole channel.
    assert one(-5, building="thermally-efficient", licensed=True).channel(21).status == "blocked"
    weak = {"21": -90.0}
    assert one(-5, building="traditional", measured_dbm=weak).channel(21).status == "blocked"
    found = one(-5, building="traditional", licensed=True, measured_dbm=weak).channel(21)
    assert found.status == "usable"
    assert "measured at -90 dBm, below -84 dBm" in found.reason
    at_limit = one(-5, building="traditional", licensed=True, measured_dbm={"21": -84.0})
    assert at_limit.channel(21).status == "blocked"


def test_levels_indoors_are_estimated_with_little_loss() -> None:
    report = one(-5, building="traditional")
    reach = report.channel(21).reach
    assert reach is not None
    # 515 MHz: E - 77.21 - 20 log 515 less 5.73 dB (Rec. ITU-R P.2109, 10 %, near 0.5 GHz).
    by_hand = reach.field_dbuv_m - 77.21 - 54.236 - 5.73
    assert report.indoor_dbm(reach) == pytest.approx(by_hand, abs=0.05)
    assert f"{by_hand:.0f} dBm" in report.summary()
    assert "only a measurement over the whole channel counts" in report.summary().replace(
        "\n  ", " "
    )
    assert one(-5).indoor_dbm(reach) is None


def test_free_space_is_the_cautious_extreme(stations: list[sidon.Station]) -> None:
    free = sidon.place_report(
        "us",
        stations,
        latitude=0,
        longitude=-30,
        propagation=sidon.spectrum.Propagation(model="free-space"),
    )
    assert status(free, 15, 27, 35) == ["blocked"] * 3
    assert any("free space" in caution for caution in free.cautions)


def test_columns_frame_and_csv_say_the_same(invented: sidon.PlaceReport, tmp_path: Path) -> None:
    table = invented.columns()
    frame = invented.frame()
    assert list(frame.columns) == list(table)
    assert len(frame) == table.n_rows == len(invented.entries)
    at = list(table["channel"]).index("15")
    assert table["status"][at] == "blocked"
    assert table["margin_km"][at] < 0
    assert table["margin_db"][at] == pytest.approx(41 - table["field_dbuv_m"][at])
    assert table["model"][at].startswith("Longley-Rice area mode (itmlogic)")
    assert np.isnan(table["margin_km"][list(table["channel"]).index("17")])
    path = tmp_path / "place.csv"
    invented.to_csv(path)
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    assert rows[at]["channel"] == "15"
    assert rows[at]["low_mhz"] == "476.000"
    assert float(rows[at]["margin_km"]) == pytest.approx(table["margin_km"][at], abs=0.006)
    assert csv_text(invented) == path.read_text()
    stations = invented.station_columns()
    assert stations.n_rows == 9
    assert stations["station"][0] == "Invented North"


def test_the_summary_says_that_it_is_an_estimate(invented: sidon.PlaceReport) -> None:
    text = invented.summary()
    assert "Estimates, not permissions" in text
    assert "Longley-Rice area mode (itmlogic)" in text
    assert "carries no date" in text
    assert "holds: TV channels, unlicensed: licence-exempt, up to 50 mW EIRP" in text
    assert "needs a licence: TV channels, licensed: licence, up to 250 mW conducted" in text
    assert "List of 9 stations: invented" in text
    assert "at 0 north, 30 west" in text
    assert "scan" in text
    assert '"not checked" is not free' in text
    assert max(len(line) for line in text.splitlines()) <= 100
    assert "TV channels 5 not checked, 11 usable, 12 adjacent, 7 blocked" in repr(invented)
    page = invented._repr_html_()
    assert "Estimates, not permissions" in page
    assert page.count("<tr>") == 1 + len(invented.entries)
    assert "476-482" in page
    assert "nan" not in page
    listed = sidon.place_report("us", occupied=[])
    assert "Longley-Rice" not in listed.summary()


def test_stations_need_a_place() -> None:
    with pytest.raises(sidon.StudyError, match="without a place"):
        one(1, latitude=None)
