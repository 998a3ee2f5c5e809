"""Tables of TV stations: any column names, units and shapes; every fault with line and column."""

from __future__ import annotations

import contextlib
import math
from pathlib import Path
from typing import Any

import pandas as pd
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sidon
from sidon.demo import stations_text
from sidon.spectrum.propagation import Propagation
from sidon.spectrum.reach import reaches
from sidon.spectrum.table import read_csv, read_options

ROW: dict[str, Any] = {
    "name": "Invented",
    "channel": 21,
    "latitude": 0.5,
    "longitude": -30.0,
    "erp_kw": 15,
    "haat_m": 100,
    "service": "digital",
}


def faults_of(source: object, **options: Any) -> dict[str, sidon.Fault]:
    with pytest.raises(sidon.StudyError) as caught:
        sidon.read_stations(source, **options)
    return {fault.place: fault for fault in caught.value.faults}


def report_faults(
    rows: list[dict[str, Any]], *, latitude: float = 0.0, longitude: float = -30.0
) -> list[sidon.Fault]:
    stations = sidon.read_stations(rows)
    with pytest.raises(sidon.StudyError) as caught:
        sidon.place_report("us", stations, latitude=latitude, longitude=longitude)
    return list(caught.value.faults)


def test_the_invented_table(tmp_path: Path) -> None:
    path = tmp_path / "stations.csv"
    path.write_text(stations_text())
    stations = sidon.read_stations(path)
    assert len(stations) == 9
    first = stations[0]
    assert (first.name, first.channel, first.erp_kw, first.height_m) == (
        "Invented North", "15", 1000, 300
    )  # fmt: skip
    assert first.height_above == "average terrain"
    assert (first.line, stations[-1].line) == (3, 11)
    assert stations[6].pattern is not None
    assert len(stations[6].pattern) == 12


@pytest.mark.parametrize("kind", ["rows", "columns", "pandas", "polars", "csv", "semicolons"])
def test_every_shape_of_table_says_the_same(kind: str, tmp_path: Path) -> None:
    rows = [ROW, ROW | {"channel": 22, "erp_kw": 1.5}]
    source: object = rows
    frame = pd.DataFrame(rows)
    path = tmp_path / "table.csv"
    if kind == "columns":
        source = {key: [row[key] for row in rows] for key in ROW}
    elif kind == "pandas":
        source = frame
    elif kind == "polars":
        source = pl.DataFrame([{**row, "erp_kw": float(row["erp_kw"])} for row in rows])
    elif kind == "csv":
        frame.to_csv(path, index=False)
        source = path
    elif kind == "semicolons":
        frame.to_csv(path, index=False, sep=";", decimal=",")
        source = str(path)
    found = sidon.read_stations(source)
    plain = [station.model_copy(update={"line": None}) for station in found]
    assert plain == sidon.read_stations(rows)
    assert [station.erp_kw for station in found] == [15, 1.5]


def test_columns_of_any_name_and_unit() -> None:
    row = {"Kanal": "9a", "Breite": 1, "Laenge": 2, "P": 40, "H": 80}
    (station,) = sidon.read_stations(
        [row],
        columns={
            "channel": "Kanal",
            "latitude": "Breite",
            "longitude": "Laenge",
            "erp": "P",
            "height": "H",
        },
        erp_unit="dBW",
        erp_kind="EIRP",
        height_above="ground",
        service="digital",
    )
    assert station.channel == "9A"
    # 40 dBW EIRP is 10 kW, less 2.15 dB.
    assert station.erp_kw == pytest.approx(10 * 10**-0.215)
    assert station.height_above == "ground"
    for column, value in (("erp_w", 15_000), ("ERP (kW)", 15), ("erp dBm", 71.7609)):
        plain = {key: cell for key, cell in ROW.items() if key != "erp_kw"} | {column: value}
        assert sidon.read_stations([plain])[0].erp_kw == pytest.approx(15, rel=1e-5)


def test_all_faults_of_a_file_come_with_line_and_column(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(
        "# a comment\n"
        "name,channel,lat,lon,erp_kw,haat_m,service,pattern\n"
        "a,21,95,-30,15,100,digital,\n"
        "b,x,0,-30,nan,100,digital,\n"
        "\n"
        "c,21,0,-190,-3,tall,,\n"
        "d,21,0,-30,15,100\n"
        "e,21,,-30,15,100,digital,1 2\n"
    )
    faults = faults_of(path)
    assert set(faults) == {
        "bad.csv, line 3, column lat",
        "bad.csv, line 4, column channel",
        "bad.csv, line 4, column erp_kw",
        "bad.csv, line 6, column lon",
        "bad.csv, line 6, column erp_kw",
        "bad.csv, line 6, column haat_m",
        "bad.csv, line 6, column service",
        "bad.csv, line 7",
        "bad.csv, line 8, column lat",
        "bad.csv, line 8, column pattern",
    }
    assert "look swapped" in faults["bad.csv, line 3, column lat"].remedy
    assert "'nan' is not a number" in faults["bad.csv, line 4, column erp_kw"].what
    assert "is missing" in faults["bad.csv, line 8, column lat"].what
    assert all(fault.remedy for fault in faults.values())


@pytest.mark.parametrize(
    ("change", "options", "what"),
    [
        ({"erp_kw": None, "erp": 15}, {}, "the unit of the power"),
        ({"haat_m": None, "height": 5}, {}, "counted from"),
        ({"erp_kw": None}, {}, "no column says the radiated power"),
        ({"erp_w": 1}, {}, "both 'erp_kw' and 'erp_w'"),
        ({}, {"columns": {"power": "erp_kw"}}, "nothing a station has"),
        ({}, {"columns": {"erp": "pwr_kw"}}, "there is no column 'pwr_kw'"),
        ({}, {"erp_unit": "W"}, "erp_unit is W, but the column is 'erp_kw'"),
        ({}, {"erp_unit": "horsepower"}, "is not allowed"),
    ],
)
def test_what_the_columns_do_not_say_is_asked_for(
    change: dict[str, Any], options: dict[str, Any], what: str
) -> None:
    row = {key: cell for key, cell in (ROW | change).items() if cell is not None}
    faults = faults_of([row], **options)
    assert any(what in fault.what for fault in faults.values())


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_may_end_as_they_like(tmp_path: Path, end: str) -> None:
    path = tmp_path / "table.csv"
    lines = ["name,channel,lat,lon,erp_kw,haat_m,service", 'a "b",21,0,-30,15,100,digital']
    lines += ['"two', 'lines, one name",22,0,-30,15,100,digital', "c,23,0,-30,15,,digital"]
    path.write_bytes(end.join(lines).encode())
    assert list(faults_of(path)) == ["table.csv, line 5, column haat_m"]
    path.write_bytes(end.join(lines[:-1]).encode())
    assert [station.name for station in sidon.read_stations(path)] == [
        'a "b"',
        "two lines, one name",
    ]


def test_a_file_that_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes(b"name,channel\n\xe9,21\n")
    assert "not UTF-8" in faults_of(path)["table.csv, line 2"].what
    path = tmp_path / "region.toml"
    path.write_bytes(b"\xe9")
    with pytest.raises(sidon.StudyError, match="not UTF-8"):
        sidon.region(path)


def test_no_table_at_all(tmp_path: Path) -> None:
    path = tmp_path / "empty.csv"
    path.write_text("# nothing\n")
    assert "empty" in faults_of(path)["empty.csv"].what
    path.write_text("name,channel\n")
    assert "no station" in faults_of(path)["empty.csv"].what
    assert "empty" in faults_of([])["stations"].what
    assert "no table" in faults_of(7)["stations"].what
    assert "differ in length" in faults_of({"channel": [1], "lat": []})["stations"].what
    assert "not a table" in faults_of([ROW, 3])["stations[1]"].what


def test_a_gap_in_a_frame_is_a_missing_value() -> None:
    frame = pd.DataFrame([ROW, ROW | {"erp_kw": math.nan, "name": None}])
    faults = faults_of(frame)
    assert list(faults) == ["stations[1].erp_kw"]


def test_names_powers_and_repeats_are_checked_against_the_region() -> None:
    rows = [
        ROW,
        ROW | {"channel": 37},
        ROW | {"channel": 20, "service": "digitl"},
        ROW | {"channel": 19, "erp_kw": 1_000_000},
        ROW | {"channel": 18, "erp_kw": 0.015},
        ROW,
    ]
    found = {fault.place: fault for fault in report_faults(rows)}
    assert list(found) == [f"stations[{n}]" for n in (1, 2, 3, 4, 5)]
    assert "'us' has no channel '37'" in found["stations[1]"].what
    assert found["stations[2]"].remedy == "did you mean 'digital'?"
    # A megawatt written in watts, and 15 kW read as watts.
    assert "1,000,000 W would be plausible" in found["stations[3]"].remedy
    assert "15 kW" in found["stations[4]"].remedy
    assert "stands already at stations[0]" in found["stations[5]"].what


def test_swapped_coordinates_of_the_place() -> None:
    (fault,) = report_faults([ROW], latitude=-30.0, longitude=0.0)
    assert fault.place == "latitude"
    assert "swapped" in fault.what
    assert fault.remedy.startswith("write latitude 0 and longitude -30; if the place is right")


def test_swapped_coordinates_of_a_station() -> None:
    turned = {"channel": 22, "latitude": -30.2, "longitude": 0.3}
    (fault,) = report_faults([ROW, ROW | turned])
    assert fault.place == "stations[1]"
    assert fault.remedy == "write latitude 0.3 and longitude -30.2"


def test_a_station_is_seen_at_the_right_distance_bearing_and_power() -> None:
    # A cardioid whose null is to the south: the place is due south of the station.
    rows = [ROW, ROW | {"channel": 22, "pattern": [1, 0.5, 0.25, 0.5]}]
    us, stations = sidon.region("us"), sidon.read_stations(rows)
    plain, shaped = reaches(us, stations, 0.0, -30.0, propagation=Propagation())
    # Half a degree of latitude at the equator: 55.287 km on the WGS 84 meridian.
    assert plain.distance_km == pytest.approx(55.287, abs=0.001)
    assert plain.bearing == pytest.approx(0, abs=1e-6)
    # A quarter of the field is a sixteenth of the power, 12.04 dB.
    assert shaped.erp_kw == pytest.approx(15 / 16)
    assert shaped.free_space_dbuv_m - plain.free_space_dbuv_m == pytest.approx(-12.04, abs=0.01)
    # 106.92 + 10 log 15 - 20 log 55.287 = 83.83 dBuV/m.
    assert plain.free_space_dbuv_m == pytest.approx(83.83, abs=0.01)
    assert plain.field_dbuv_m < plain.free_space_dbuv_m
    assert plain.margin_km == pytest.approx(plain.distance_km - plain.contour_km)
    # From the east the station lies to the west.
    (west,) = reaches(us, stations[:1], 0.5, -29.5, propagation=Propagation())
    assert west.bearing == pytest.approx(270, abs=0.01)


def test_patterns_are_interpolated() -> None:
    (station,) = sidon.read_stations([ROW | {"pattern": "1 0.5 0 0.5"}])
    assert station.erp_towards_kw(0) == 15
    assert station.erp_towards_kw(45) == pytest.approx(15 * 0.75**2)
    assert station.erp_towards_kw(-45) == pytest.approx(15 * 0.75**2)
    assert station.erp_towards_kw(180) == 0
    assert station.erp_towards_kw(359.9999) == pytest.approx(15, rel=1e-4)


def test_the_contour_of_an_authority_is_taken_as_it_is() -> None:
    (station,) = sidon.read_stations([ROW | {"contour_km": 51.0}])
    report = sidon.place_report("us", [station], latitude=0, longitude=-30)
    reach = report.channel(21).reach
    assert reach is not None
    assert reach.contour_km == 51.0
    # 4.29 km outside: the 4 km of 47 CFR 74.802(b)(1) are kept.
    assert report.channel(21).status == "usable"


_CELLS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=6),
    st.lists(st.floats(-1, 2), max_size=3),
    st.sampled_from(["21", "9A", " 33 ", "0.5", "-30", "1e3", "nan", "digital", "1 0.5", "ground"]),
)


_SETTINGS = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=150)


@_SETTINGS
@given(st.sampled_from([*ROW, "pattern", "contour_km"]), st.lists(_CELLS, min_size=1, max_size=3))
def test_whatever_stands_in_a_table_is_read_or_refused_in_words(
    key: str, cells: list[object]
) -> None:
    faults: tuple[sidon.Fault, ...] = ()
    found = []
    try:
        found = sidon.read_stations([ROW | {key: cell} for cell in cells])
    except sidon.StudyError as error:
        faults = error.faults
    assert bool(faults) != (len(found) == len(cells))
    assert all(fault.place and fault.what and fault.remedy for fault in faults)


@_SETTINGS
@given(st.text(alphabet="name,channel;lt\t\"\n#0123456789.-|'\r", max_size=120))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    options = read_options({})
    header = "name,channel,lat,lon,erp_kw,haat_m,service\n"
    for whole in (text, header + text):
        with contextlib.suppress(sidon.StudyError):
            read_csv(whole, options=options, name="table.csv")


def test_names_that_do_not_print_are_made_to() -> None:
    (station,) = sidon.read_stations([ROW | {"name": "In\nvented\x00"}])
    assert station.name == "In vented "
