"""What is no scan is refused with a remedy; what is odd is said on the scan, never by Python."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sidon
from sidon import Scan
from sidon.spectrum.scan import demo_scan, plausible, tv_channels
from sidon.view.scan import save_scan


def refused(text: str, **options: Any) -> str:
    with pytest.raises((sidon.InvalidProblemError, sidon.UnreadableError)) as caught:
        Scan.from_text(text, **options)
    return str(caught.value)


def steady(level: float, *, points: int = 50) -> str:
    return "".join(f"{470 + i / 10:.1f},{level + i % 3}\n" for i in range(points))


@pytest.mark.parametrize(
    "text", ["", "  \n\n", "MHz,dBm\n", "words\nand more words\n", "1\n2\n3\n"]
)
def test_no_table(text: str) -> None:
    said = refused(text)
    assert "cannot read the text" in said
    assert "a column of frequencies and a column of levels" in said


def test_one_point() -> None:
    assert "one point, at 470.000 MHz" in refused("MHz,dBm\n470,-100\n")
    assert "one point" in refused("MHz,dBm\n470,-100\n470,-101\n")


def test_no_levels() -> None:
    assert "holds no numbers" in refused("MHz,x,dBm\n470,1,nan\n471,2,nan\n", level=3)
    with pytest.raises(sidon.InvalidProblemError, match="it holds no levels"):
        Scan.from_arrays([470e6, 471e6], [np.nan, np.inf])


def test_two_frequencies_list_the_columns() -> None:
    said = refused("Start (MHz),Stop (MHz),Level (dBm)\n470,471,-100\n471,472,-101\n")
    assert "two columns of the text look like frequency: 1 'Start (MHz)' and 2 'Stop (MHz)'" in said
    assert "3 'Level (dBm)' (-100 to -101)" in said
    assert "frequency=" in said


def test_two_frequencies_without_header() -> None:
    said = refused("470,470.5,-100\n471,471.5,-101\n472,472.5,-99\n")
    assert "two columns of the text look like frequency: 1 and 2" in said
    scan = Scan.from_text("470,470.5,-100\n471,471.5,-101\n472,472.5,-99\n", frequency=2)
    assert scan.frequency_hz.tolist() == [470_500_000, 471_500_000, 472_500_000]


def test_no_frequency_lists_the_columns() -> None:
    said = refused("Left,Right\n-90,-100\n-91,-101\n")
    assert "no column of the text looks like frequency" in said
    assert "1 'Left' (-90 to -91), 2 'Right' (-100 to -101)" in said


def test_all_named_columns_that_are_not_there_are_told_together() -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        Scan.from_text("MHz,dBm\n470,-100\n471,-101\n", frequency="F", level=7, sweep="S")
    assert {fault.place for fault in caught.value.faults} == {"frequency", "level", "sweep"}
    assert "named both" in refused("MHz,dBm\n470,-100\n471,-101\n", frequency=2, level=2)


def test_units_that_are_none() -> None:
    assert "use Hz, kHz, MHz or GHz" in refused(steady(-100), frequency_unit="furlong")
    assert "use dBm, dBuV" in refused(steady(-100), level_unit="dBFS")
    said = refused(steady(40).replace("470.0", "470.0", 1), level_unit="dBuV/m")
    assert "antenna factor" in said


def test_frequencies_out_of_this_world() -> None:
    assert "not between 0 and 100 GHz" in refused("MHz,dBm\n-470,-100\n471,-101\n")
    assert "not between 0 and 100 GHz" in refused(
        "Frequency,dBm\n470000000,-100\n471000000,-101\n", frequency_unit="MHz"
    )


def test_microvolts_taken_for_milliwatts() -> None:
    said = refused(steady(10))
    assert "are no scan" in said
    assert "level_unit='dBuV'" in said
    assert Scan.from_text(steady(10), level_unit="dBuV").max_hold().max() < -90


@pytest.mark.parametrize("level", [300, -400, 40])
def test_levels_no_receiver_gives(level: float) -> None:
    assert "are no scan" in refused("MHz,dBm\n" + steady(level))


def test_odd_levels_are_said() -> None:
    assert any("much for a scan" in text for text in Scan.from_text(steady(-40)).warnings)
    strong = Scan.from_text(steady(-100).replace("-99\n", "-5\n", 1))
    assert any("overloaded" in text for text in strong.warnings)
    # Thermal noise in 10 kHz is -174 + 40 = -134 dBm (kTB at 290 K).
    thermal = Scan.from_text(steady(-160), resolution_bandwidth="10 kHz")
    assert any("thermal noise of -134 dBm" in text for text in thermal.warnings)
    assert not any("thermal" in text for text in Scan.from_text(steady(-160)).warnings)


def test_an_unknown_bandwidth_is_said_and_refused_where_it_matters() -> None:
    scan = Scan.from_text(steady(-100))
    assert any("resolution bandwidth is not known" in text for text in scan.warnings)
    with pytest.raises(sidon.InvalidProblemError, match="needs the resolution bandwidth"):
        scan.channel_power("470 MHz", "474 MHz")
    with pytest.raises(sidon.InvalidProblemError, match="needs the resolution bandwidth"):
        scan.noise_dbm("200 kHz")


def test_a_deaf_receiver_is_said() -> None:
    # Thermal noise in 10 kHz is -134 dBm, and a floor of -98 dBm 36 dB above it.
    deaf = Scan.from_text(steady(-100), resolution_bandwidth="10 kHz", noise_factor=1)
    assert "dB above thermal noise" in deaf.summary()
    assert "above thermal" not in demo_scan(sweeps=1).summary()


def test_points_far_apart_for_their_bandwidth_are_said() -> None:
    scan = Scan.from_text(steady(-100), resolution_bandwidth="1 kHz")
    assert any("carriers between them are missed" in text for text in scan.warnings)


def test_facts_out_of_range_are_told_together() -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        Scan.from_text(
            steady(-100),
            resolution_bandwidth=0,
            noise_factor=9,
            averages=0,
            held=-1,
            averaged_in="volts",
            taken="yesterday",
        )
    assert [fault.place for fault in caught.value.faults] == [
        "resolution_bandwidth",
        "noise_factor",
        "averages",
        "held",
        "averaged_in",
        "taken",
    ]
    with pytest.raises(TypeError, match="unknown option 'rbw'"):
        Scan.from_text(steady(-100), **{"rbw": 10_000})  # type: ignore[arg-type]


def test_rules_out_of_range_are_told_together() -> None:
    scan = demo_scan(sweeps=1)
    with pytest.raises(sidon.InvalidProblemError) as caught:
        scan.occupied(above_db=-1, false_hits=0, bridge="-1 kHz", window=1, threshold_dbm=900)
    places = {fault.place for fault in caught.value.faults}
    assert places == {"above_db", "false_hits", "bridge", "window", "threshold_dbm"}
    with pytest.raises(TypeError, match="unknown option 'above'"):
        scan.occupied(**{"above": 5})


def test_costs_out_of_range_are_told_together() -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        demo_scan(sweeps=1).costs([518.1], bandwidth=0, most=0, weight=-1, quiet_db=-1)
    places = {fault.place for fault in caught.value.faults}
    assert places == {"candidates_hz[0]", "bandwidth", "most", "weight", "quiet_db"}


def test_other_arguments() -> None:
    scan = demo_scan(sweeps=2)
    channels = tv_channels("470 MHz", "6 MHz", 14, 16)
    with pytest.raises(sidon.InvalidProblemError, match="channel 99 is not among"):
        scan.compare(channels, [99])
    with pytest.raises(sidon.InvalidProblemError, match="lower edge first"):
        scan.channel_power("476 MHz", "470 MHz")
    with pytest.raises(sidon.InvalidProblemError, match="'minimum' is no trace"):
        scan.channel_power("470 MHz", "476 MHz", trace="minimum")  # type: ignore[arg-type]
    with pytest.raises(sidon.InvalidProblemError, match="not between 0 and 1"):
        scan.quantile(2)
    with pytest.raises(sidon.InvalidProblemError, match="'sweeps' with a share"):
        scan.floor("sweeps", share=0)
    with pytest.raises(ValueError, match="cannot draw"):
        save_scan(scan, "scan.bmp")


def test_arrays_that_do_not_fit() -> None:
    with pytest.raises(sidon.InvalidProblemError, match="one level per frequency"):
        Scan.from_arrays([470e6, 471e6], [-100])
    with pytest.raises(sidon.InvalidProblemError, match="one level per frequency"):
        Scan.from_arrays([], [])
    with pytest.raises(sidon.InvalidProblemError, match="not all values are numbers"):
        Scan.from_arrays(["here", "there"], [-100, -101])
    with pytest.raises(sidon.InvalidProblemError, match="2 points"):
        Scan.from_arrays([470e6, 471e6], [-100, -101], sweep=["a"])
    with pytest.raises(sidon.InvalidProblemError, match="no data frame"):
        Scan.from_frame(7)
    with pytest.raises(sidon.InvalidProblemError, match="one length"):
        Scan.from_frame({"MHz": [470, 471], "dBm": [-100]})


def test_sweeps_without_a_common_grid_are_refused_before_memory_is_gone() -> None:
    count = 20_000
    where = np.arange(count * 4, dtype=np.float64) + 470e6
    sweep = np.repeat(np.arange(count), 4)
    with pytest.raises(sidon.TooLargeError, match="share few frequencies"):
        Scan.from_arrays(where, np.full(len(where), -100.0), sweep=sweep)


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(sidon.UnreadableError, match="directory"):
        Scan.from_file(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(sidon.UnreadableError, match="named pipe"):
        Scan.from_file(tmp_path / "pipe")
    path = tmp_path / "scan.bin"
    path.write_bytes(b"\x89\0\0\0data")
    with pytest.raises(sidon.UnreadableError, match="no text"):
        Scan.from_file(path)
    with pytest.raises(FileNotFoundError):
        Scan.from_file(tmp_path / "none.csv")


def test_any_text_is_a_scan_or_a_refusal() -> None:
    random = np.random.default_rng(2)
    atoms = ["470", "471.5", "-100", "-99,5", "1e3", "nan", "inf", "", "n/a", "MHz", "dBm", "#"]
    atoms += ['"', "'", "2031-05-01", "0", "1e400", "x", "470000000"]
    read = 0
    for _ in range(1_500):
        mark = random.choice([",", ";", "\t", " ", "|"])
        rows = []
        for row in range(int(random.integers(0, 10))):
            rest = random.choice(atoms, size=random.integers(0, 4)).tolist()
            steady = random.random() < 0.7
            rows.append(mark.join([f"{470 + row / 10}", "-99.5", *rest] if steady else rest))
        try:
            scan = Scan.from_text("\n".join(rows))
        except (sidon.InvalidProblemError, sidon.UnreadableError):
            continue
        read += 1
        assert bool((np.diff(scan.frequency_hz) > 0).all())
        assert "Caution" in scan.summary()
    assert read > 50


def test_rows_without_a_frequency_are_left_out_and_said() -> None:
    scan = Scan.from_text("MHz,dBm\n470,-100\n,-99\n471,-101\n472,-100\n")
    assert len(scan) == 3
    assert any("1 row without a frequency" in text for text in scan.warnings)


def test_a_broken_line_is_named() -> None:
    rows = ["MHz,dBm", *(f"{470 + i / 10:.1f},{-100 - i % 3}" for i in range(200))]
    rows[5], rows[50], rows[120] = "oops,xx", "474.9", "481.9,9999"
    with pytest.raises(sidon.InvalidProblemError) as caught:
        Scan.from_text("\n".join(rows))
    [fault] = caught.value.faults
    assert fault.place == "the text, line 121"
    assert "9999.0 dBm is no level of a scan" in fault.what
    rows[120] = "481.9,-100"
    warnings = Scan.from_text("\n".join(rows)).warnings
    assert "1 line without numbers inside the table passed over: line 6" in warnings
    assert "1 level is missing (line 51); nothing is known there" in warnings
    rows[0:1] = ["# a note", "", "MHz,dBm"]
    for at in range(20, 27):
        rows[at] = "x,y"
    said = " ".join(Scan.from_text("\n".join(rows)).warnings)
    assert "passed over: lines 8, 21, 22, 23, 24 and 3 more" in said


def test_many_levels_out_of_range_are_another_unit() -> None:
    said = refused("MHz,dBm\n" + "".join(f"{470 + i / 10:.1f},{990 + i % 9}\n" for i in range(99)))
    assert "are no scan" in said
    assert "line" not in said


def test_frequencies_in_another_unit_are_refused() -> None:
    with pytest.raises(sidon.InvalidProblemError, match="frequency_unit='MHz' if they are MHz"):
        Scan.from_arrays([470.0, 471.0, 472.0], [-100, -101, -100])
    scan = demo_scan(sweeps=1)
    for ask in (scan.coverage, scan.merge(scan).coverage):
        with pytest.raises(sidon.InvalidProblemError, match=r"multiply by sidon\.MHz"):
            ask([(470, 608)])
    with pytest.raises(sidon.InvalidProblemError, match=r"multiply by sidon\.MHz"):
        scan.channel_power(470, 476)
    assert scan.coverage([]).missing == ()


@pytest.mark.parametrize(
    ("taken", "words"),
    [
        ("2026-05-01", None),
        ("2026-04-20T18:00", None),
        ("2026-05-02", None),
        ("2026-05-03", "still to come: check the date"),
        ("2099-05-01T10:00", "still to come: check the date"),
        ("2026-03-31", "more than 30 days before it was read"),
        (None, None),
    ],
)
def test_dates_are_weighed(
    monkeypatch: pytest.MonkeyPatch, taken: str | None, words: str | None
) -> None:
    monkeypatch.setattr(plausible, "_today", lambda: dt.date(2026, 5, 1))
    warnings = Scan.from_text(steady(-100), resolution_bandwidth="100 kHz", taken=taken).warnings
    if words is None:
        assert warnings == ()
    else:
        assert len(warnings) == 1
        assert words in warnings[0]
