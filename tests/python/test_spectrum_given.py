"""What a report on a place is asked with is checked whole, and its cautions say what it lacks."""

from __future__ import annotations

import datetime as dt
import pickle
from typing import Any

import pytest

import sidon
from sidon.spectrum import Propagation
from sidon.spectrum.cautions import age_caution

ROW = {"channel": 21, "lat": 0.1, "lon": -30.2, "erp_kw": 15, "haat_m": 100}


def stations(*rows: dict[str, Any]) -> list[sidon.Station]:
    return sidon.read_stations([ROW | row for row in rows or ({},)], service="digital")


def report(*rows: dict[str, Any], **options: Any) -> sidon.PlaceReport:
    where = {"latitude": 0.0, "longitude": -30.0}
    return sidon.place_report("us", stations(*rows), **(where | options))


def said(found: sidon.PlaceReport, words: str) -> bool:
    return any(words in caution for caution in found.cautions)


@pytest.mark.parametrize(
    ("options", "place", "remedy"),
    [
        ({"confirmed": "protection"}, "confirmed", "give a list, such as ['protection']"),
        ({"confirmed": ["zz"]}, "confirmed[0]", "known: "),
        ({"covers": ["VHF hihg"]}, "covers[0]", "did you mean 'VHF high'?"),
        ({"occupied": [21, "21"]}, "occupied[1]", "once"),
        ({"occupied": ["99"]}, "occupied[0]", "use 2 to 4"),
        ({"latitude": 100}, "latitude", "-90 to 90"),
        ({"latitude": float("nan")}, "latitude", "-90 to 90"),
        ({"latitude": -92.9, "longitude": 42.0}, "latitude", "may be swapped"),
        ({"longitude": "x"}, "longitude", "-180 to 180"),
        ({"longitude": 267.1}, "longitude", "the same meridian is -92.9"),
        ({"longitude": None}, "longitude", "give latitude and longitude"),
        ({"propagation": "free-space"}, "propagation", "Propagation(model='free-space')"),
        ({"building": "tent"}, "building", "'traditional'"),
        ({"measured_dbm": {"99": -90}}, "measured_dbm['99']", "use 2 to 4"),
        ({"measured_dbm": {21: 90}}, "measured_dbm[21]", "-200 to 30"),
        ({"measured_dbm": {"21": float("nan")}}, "measured_dbm['21']", "-200 to 30"),
        ({"measured_dbm": [-90]}, "measured_dbm", "by channel"),
        ({"as_of": "2026"}, "as_of", "datetime.date"),
        ({"licensed": "no"}, "licensed", "True or False"),
        ({"source": 7}, "source", "text"),
    ],
)
def test_every_argument_is_checked(options: dict[str, Any], place: str, remedy: str) -> None:
    with pytest.raises(sidon.StudyError) as caught:
        report(**options)
    (fault,) = caught.value.faults
    assert fault.place == place
    assert remedy in fault.remedy


def test_all_faults_come_together() -> None:
    wrong: dict[str, Any] = {"confirmed": ["zz"], "latitude": 100, "as_of": "x"}
    with pytest.raises(sidon.StudyError) as caught:
        report({"channel": 37}, longitude=-30.0, **wrong)
    places = [fault.place for fault in caught.value.faults]
    assert places == ["latitude", "confirmed[0]", "as_of", "stations[0]"]
    for table in ("stations.csv", [1], [], 7):
        with pytest.raises(sidon.StudyError, match="stations"):
            sidon.place_report("us", table, latitude=0, longitude=0)  # type: ignore[arg-type]
    with pytest.raises(sidon.StudyError) as caught:
        sidon.place_report("uss", latitude=100, longitude=0)
    assert [fault.place for fault in caught.value.faults] == ["region", "latitude"]
    with pytest.raises(sidon.StudyError, match="7 is no region"):
        sidon.place_report(7)  # type: ignore[arg-type]
    # A date with a time, and channels and levels by number, are as good.
    sound = report(as_of=dt.datetime(2026, 11, 25, tzinfo=dt.UTC), measured_dbm={21: -90})
    assert sound.terms.as_of == dt.date(2026, 11, 25)
    assert sound.terms.measured_dbm == {"21": -90.0}


def test_a_band_without_stations_is_not_checked() -> None:
    found = report()
    assert [found.channel(n).status for n in (2, 6, 7, 30)] == ["not checked"] * 3 + ["usable"]
    assert "write covers = ['VHF high']" in found.channel(7).reason
    assert said(found, "only 1 station within 300 km")
    covered = report(covers=["VHF high"])
    assert [covered.channel(n).status for n in (2, 7)] == ["not checked", "usable"]
    assert said(covered, "covers VHF high is said by the study")
    # Four degrees of longitude at the equator are 445 km.
    far = report({"lon": -34.0})
    assert far.channel(30).status == "not checked"
    assert said(far, "no station within 300 km")
    whole = report(*({"channel": n} for n in range(21, 26)))
    assert not said(whole, "is it whole?")


def test_a_contour_that_the_model_contradicts_does_not_free_a_channel() -> None:
    strong = {"lon": -30.15, "lat": 0.0, "erp_kw": 1000, "haat_m": 400, "contour_km": 10}
    found = report(strong)
    near = found.channel(21)
    # 16.7 km away, 10 km outside of the contour as given; near free space the field is 112 dBuV/m.
    assert near.status == "blocked"
    assert "the table gives a contour of 10 km" in near.reason
    assert near.reach is not None
    assert near.reach.contour_km == near.reach.computed_km
    assert said(found, "list 'contours' in confirmed")
    assert report(strong, propagation=Propagation(model="free-space")).channel(21).status == (
        "blocked"
    )
    trusted = report(strong, confirmed=["contours"])
    assert trusted.channel(21).status == "usable"
    # Within the 30 % that computed contours run long, the authority is believed.
    own = report(strong | {"contour_km": None}).channel(21).reach
    assert own is not None
    given = own.contour_km / 1.3
    reach = report(strong | {"contour_km": given}).channel(21).reach
    assert reach is not None
    assert reach.contour_km == given
    assert reach.overruled == ""


def test_a_measurement_is_shown_and_says_why_it_counts_or_not() -> None:
    strong = {"lon": -30.15, "lat": 0.0, "erp_kw": 1000, "haat_m": 400}
    without = report(strong, measured_dbm={"21": -88})
    assert without.channel(21).status == "blocked"
    assert "the indoor rule needs a licence" in without.channel(21).reason
    assert "-88 dBm measured" in without.summary()
    assert said(without, "more than 30 dB apart on 21 (-88")
    assert "below what is predicted" in without.channel(21).reason
    weak = report(strong, measured_dbm={"21": -80}, licensed=True)
    assert "not below the -84 dBm of the indoor rule" in weak.channel(21).reason
    table = weak.columns()
    assert table["measured_dbm"][list(table["channel"]).index("21")] == -80
    # Two stations of 5 kW and 15 kW some 25 km off: indoors near what is measured.
    assert not said(report(measured_dbm={"21": -60}), "dB apart")
    row = ROW | {"service": "dvb-t fixed"}
    there = sidon.read_stations([row])
    other = sidon.place_report(
        "ge06", there, latitude=0, longitude=-30, measured_dbm={"21": -99}, licensed=True
    )
    assert "the region has no indoor rule" in other.channel(21).reason


def test_everything_unseen_is_named_at_once() -> None:
    there = sidon.read_stations([ROW], service="dvb-t fixed")
    found = sidon.place_report("ge06", there, latitude=0, longitude=-30, licensed=True)
    assert "list in confirmed: 'dvb-t fixed', 'protection'" in found.channel(30).reason
    bare = sidon.place_report("ge06", there, latitude=0, longitude=-30)
    assert "needs a licence" in bare.channel(30).reason
    assert "list in confirmed: 'dvb-t fixed', 'protection'" in bare.channel(30).reason
    there = sidon.read_stations([ROW | {"channel": 30}], service="digital")
    found = sidon.place_report("australia", there, latitude=0, longitude=-30)
    names = "list in confirmed: '520-694 MHz', 'digital', 'protection'"
    assert names in found.channel(40).reason


def test_dates_and_places_are_judged() -> None:
    today = dt.date(2026, 11, 25)
    assert "such lists go stale" in age_caution(dt.date(2026, 5, 1), today)
    assert "more than a year old" in age_caution(dt.date(2019, 1, 1), today)
    assert "yet to come" in age_caution(dt.date(2036, 1, 1), today)
    assert "carries no date" in age_caution(None, today)
    # The invented raft floats in the Atlantic, far from the United States.
    assert said(report(), "outside the countries of the region 'us'")
    inside = sidon.place_report("us", occupied=[], latitude=42, longitude=-93)
    assert not said(inside, "outside the countries")


@pytest.mark.parametrize(
    ("region", "inside", "outside"),
    [
        # Rough places known to anyone with a map.
        ("us", [(42, -93), (61, -150), (21, -158)], [(42, 93), (52, 0), (-30, 140)]),
        ("ge06", [(52, 0), (-30, 25), (55, 90)], [(42, -93), (-30, 140), (36, 140)]),
        ("japan", [(36, 140), (26, 128)], [(52, 0), (-30, 140)]),
        ("australia", [(-30, 140), (-42, 147)], [(42, -93), (36, 140)]),
    ],
)
def test_the_extent_of_regions(
    region: str, inside: list[tuple[float, float]], outside: list[tuple[float, float]]
) -> None:
    there = sidon.region(region)
    assert all(there.holds(*place) for place in inside)
    assert not any(there.holds(*place) for place in outside)


def test_cautions_of_rasters_are_shown() -> None:
    assert said(sidon.place_report("ge06"), "TV centres may be offset")
    assert said(sidon.place_report("us"), "Channel 17 is not TV in Hawaii")
    australia = sidon.place_report("australia").cautions
    assert sum("widen the guard" in caution for caution in australia) == 1


def test_a_table_of_the_wrong_sign_or_swapped_is_told_from_a_place() -> None:
    def fault(place: tuple[float, float], row: dict[str, Any]) -> sidon.Fault:
        with pytest.raises(sidon.StudyError) as caught:
            sidon.place_report("us", stations(row), latitude=place[0], longitude=place[1])
        return caught.value.faults[0]

    missing = fault((42.0, -92.9), {"lat": 41.6, "lon": 92.9})
    assert missing.place == "stations"
    assert "write latitude 41.6 and longitude -92.9" in missing.remedy
    swapped = fault((42.0, -72.9), {"lat": -72.9, "lon": 41.6})
    assert swapped.place == "stations"
    assert "write latitude 41.6 and longitude -72.9" in swapped.remedy
    place = fault((42.0, 92.9), {"lat": 41.6, "lon": -92.9})
    assert place.place == "longitude"
    assert "write latitude 42 and longitude -92.9" in place.remedy
    with pytest.raises(sidon.StudyError) as caught:
        stations({"lat": 95, "lon": -292.9})
    assert all("swapped" not in fault.remedy for fault in caught.value.faults)


def test_small_things_are_written_plainly() -> None:
    # 160 degrees away a model's field means nothing.
    far = report({}, {"channel": 30, "lon": 0.0}).summary()
    row = next(line for line in far.splitlines() if line.startswith("30 "))
    assert "none" in row
    assert "List of 2 stations" in far
    assert "List of 1 station:" in report().summary()
    names = [
        s.channel for s in stations(*({"channel": n} for n in ("CH16", "16.0", "ch. 9", 14.0)))
    ]
    assert names == ["16", "16", "9", "14"]
    assert repr(sidon.region("japan")).startswith("Region('japan': 40 TV channels")
    assert "<p>Japan" in sidon.region("japan")._repr_html_()
    assert len(sidon.region("us")._repr_html_()) < 500


def test_what_a_table_raises_can_be_pickled() -> None:
    rows = [ROW | {"service": "digital"}, ROW | {"service": "digital", "lat": "north"}]
    with pytest.raises(sidon.StudyError) as caught:
        sidon.read_stations(rows)
    again = pickle.loads(pickle.dumps(caught.value))
    assert again.faults == caught.value.faults
