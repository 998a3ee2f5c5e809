"""Scans from text of any make, arrays and data frames."""

from __future__ import annotations

import datetime as dt
import math
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest

import sidon
from sidon import Scan
from sidon.spectrum.scan import demo_scan, demo_text

# Every text below is invented.
WHERE = [518_000_000, 518_025_000, 518_050_000, 518_075_000]
LEVELS = [-101.5, -99.25, -60.0, -102.0]


def rows(pattern: str, *, scale: float = 1e6, comma: bool = False) -> str:
    lines = []
    for hz, dbm in zip(WHERE, LEVELS, strict=True):
        line = pattern.format(f=f"{hz / scale:.9f}".rstrip("0").rstrip("."), a=f"{dbm:.2f}")
        lines.append(line.replace(".", ",") if comma else line)
    return "\n".join(lines) + "\n"


FORMS = {
    "comma, header": "Frequency (MHz),Level (dBm)\n" + rows("{f},{a}"),
    "no header": rows("{f},{a}"),
    "semicolon, decimal comma": "Frequenz [MHz];Pegel [dBm]\n" + rows("{f};{a}", comma=True),
    "tab, decimal comma": rows("{f}\t{a}", comma=True),
    "blanks": rows("  {f}   {a}"),
    "blanks, header of words": "Frequency [MHz]  Level [dBm]\n" + rows("{f} {a}"),
    "blanks, decimal comma": rows("{f} {a}", comma=True),
    "bars": rows("| {f} | {a} |".replace("| {f}", "{f}").replace("{a} |", "{a}")),
    "hertz": "freq_hz,dBm\n" + rows("{f},{a}", scale=1),
    "hertz without header": rows("{f},{a}", scale=1),
    "kilohertz": "f kHz\tdBm\n" + rows("{f}\t{a}", scale=1e3),
    "kilohertz without header": rows("{f}\t{a}", scale=1e3),
    "gigahertz": "Frequency (GHz);Amplitude\n" + rows("{f};{a}", scale=1e9),
    "gigahertz without header": rows("{f};{a}", scale=1e9),
    "preamble": "Receiver: invented\nDate,2031-05-01\n\nPoints,4\nMHz,dBm\n" + rows("{f},{a}"),
    "comments": "# invented\n! made up\n" + rows("{f},{a}"),
    "comment inside": rows("{f},{a}").replace("\n", "\n# pause\n", 1),
    "header again inside": "MHz,dBm\n" + rows("{f},{a}").replace("\n", "\nMHz,dBm\n", 1),
    "trailing delimiter": rows("{f},{a},"),
    "quotes": '"Frequency, MHz","Level, dBm"\n' + rows('"{f}","{a}"'),
    "units in the cells": rows("{f} MHz,{a} dBm"),
    "level first": "Level (dBm),Frequency (MHz)\n" + rows("{a},{f}"),
    "level first, no header": rows("{a},{f}"),
    "counted points": "Point,Frequency (MHz),Level (dBm)\n1,"
    + rows("{f},{a}").replace("\n", "\n1,")[:-2],
    "limit line": "Frequency (MHz),Level (dBm),Limit (dBm)\n" + rows("{f},{a},-50"),
    "a column of text": "Time,MHz,dBm\n" + rows("20:15:00,{f},{a}"),
    "windows line ends": ("MHz,dBm\n" + rows("{f},{a}")).replace("\n", "\r\n"),
    "exponents": "518.0e6,-101.5\n5.18025e8,-99.25\n5.1805e8,-60\n518.075E6,-1.02e2\n",
}


@pytest.mark.parametrize("text", FORMS.values(), ids=FORMS.keys())
def test_forms(text: str) -> None:
    scan = Scan.from_text(text)
    assert scan.frequency_hz.tolist() == WHERE
    assert scan.levels_dbm.tolist() == [LEVELS]
    assert scan.frequency_hz.dtype == np.int64


def test_every_raster_point_is_exact() -> None:
    where = list(range(470_000_000, 608_000_001, 6_250))
    for scale, unit in ((1e3, "kHz"), (1e6, "MHz"), (1e9, "GHz")):
        digits = {1e3: 3, 1e6: 6, 1e9: 9}[scale]
        text = f"Frequency ({unit}),dBm\n" + "\n".join(
            f"{hz / scale:.{digits}f},-100" for hz in where
        )
        assert Scan.from_text(text).frequency_hz.tolist() == where


def test_finer_than_a_hertz_is_rounded_and_said() -> None:
    scan = Scan.from_text("MHz,dBm\n470.0000004,-100\n470.0100006,-100\n")
    assert scan.frequency_hz.tolist() == [470_000_000, 470_010_001]
    assert any("rounded" in note for note in scan.notes)


def test_what_is_taken_for_granted_is_said() -> None:
    scan = Scan.from_text(FORMS["no header"])
    assert "the unit of frequency is not stated; MHz is taken, by its size" in scan.notes
    assert "the unit of level is not stated; dBm is taken" in scan.notes
    assert Scan.from_text(FORMS["comma, header"]).notes == ()


@pytest.mark.parametrize("header", ["Level (dBuV)", "Level [dBµV]"])
def test_microvolts(header: str) -> None:
    text = f"MHz;{header}\n470;6,99\n471;46,99\n472;6,99\n"
    expected = [[-100.0, -60.0, -100.0]]  # 1 uV over 50 ohm is -106.99 dBm: P = U^2 / R
    assert np.allclose(Scan.from_text(text).levels_dbm, expected, atol=0.001)
    bare = text.replace(f"MHz;{header}\n", "")
    assert np.allclose(Scan.from_text(bare, level_unit="dBuV").levels_dbm, expected, atol=0.001)


def test_levels_per_hertz_need_the_bandwidth() -> None:
    text = "MHz,dBm/Hz\n470,-160\n471,-150\n"
    with pytest.raises(sidon.InvalidProblemError, match="resolution_bandwidth"):
        Scan.from_text(text)
    scan = Scan.from_text(text, resolution_bandwidth="10 kHz", noise_factor=1)
    # 10 log10(10000) = 40 dB.
    assert np.allclose(scan.levels_dbm, [[-120, -110]])


def test_the_bandwidth_above_the_table_is_read() -> None:
    for line in ("RBW: 10 kHz", "# Resolution bandwidth = 10 kHz", "RBW;0,01 MHz"):
        scan = Scan.from_text(f"{line}\nMHz;dBm\n" + rows("{f};{a}", comma=True))
        assert scan.resolution_bandwidth_hz == 10_000, line
        assert any("resolution bandwidth" in note for note in scan.notes)
    given = Scan.from_text("RBW: 10 kHz\nMHz,dBm\n" + rows("{f},{a}"), resolution_bandwidth=3_000)
    assert given.resolution_bandwidth_hz == 3_000


def test_columns_by_name_and_number() -> None:
    text = "Frequency (MHz),Left (dBm),Right (dBm)\n470,-100,-50\n471,-101,-51\n"
    assert Scan.from_text(text, level="Right (dBm)").levels_dbm.tolist() == [[-50, -51]]
    assert Scan.from_text(text, level="right").levels_dbm.tolist() == [[-50, -51]]
    assert Scan.from_text(text, level=2).levels_dbm.tolist() == [[-100, -101]]
    assert Scan.from_text(text, frequency="1", level="3").levels_dbm.tolist() == [[-50, -51]]
    assert Scan.from_text(text, level=[3, 2]).levels_dbm.tolist() == [[-50, -51], [-100, -101]]


def test_one_level_column_per_sweep() -> None:
    text = "MHz;20:00;20:05\n470;-100;-90\n471;-101;-91\n"
    assert Scan.from_text(text).levels_dbm.tolist() == [[-100, -101], [-90, -91]]


def test_other_traces_are_no_sweeps() -> None:
    text = "Frequency (MHz),Average (dBm),Max Hold (dBm)\n470,-100,-90\n471,-101,-91\n"
    scan = Scan.from_text(text)
    assert scan.levels_dbm.tolist() == [[-90, -91]]
    assert any("Average" in warning and "not read" in warning for warning in scan.warnings)


def test_a_level_in_two_units_is_read_once() -> None:
    text = "Frequency (MHz),Level (dBuV),Level (dBm)\n470,6.99,-100\n471,16.99,-90\n"
    assert Scan.from_text(text).levels_dbm.tolist() == [[-100, -90]]


SWEEPS = {
    "the frequency starts again": "470,-100\n471,-101\n472,-102\n473,-103\n"
    "470,-90\n471,-91\n472,-92\n473,-93\n",
    "a column of numbers": "Sweep,MHz,dBm\n1,470,-100\n1,471,-101\n1,472,-102\n1,473,-103\n"
    "2,470,-90\n2,471,-91\n2,472,-92\n2,473,-93\n",
    "a column of times": "Time,MHz,dBm\n20:00,470,-100\n20:00,471,-101\n20:00,472,-102\n"
    "20:00,473,-103\n20:05,470,-90\n20:05,471,-91\n20:05,472,-92\n20:05,473,-93\n",
    "frequency by frequency": "470,-100\n470,-90\n471,-101\n471,-91\n472,-102\n472,-92\n"
    "473,-103\n473,-93\n",
    "each in two pieces": "472,-102\n473,-103\n470,-100\n471,-101\n"
    "472,-92\n473,-93\n470,-90\n471,-91\n",
}


@pytest.mark.parametrize("text", SWEEPS.values(), ids=SWEEPS.keys())
def test_several_sweeps_in_one_file(text: str) -> None:
    scan = Scan.from_text(text)
    assert scan.frequency_hz.tolist() == [470_000_000, 471_000_000, 472_000_000, 473_000_000]
    assert scan.levels_dbm.tolist() == [[-100, -101, -102, -103], [-90, -91, -92, -93]]


def test_a_column_of_levels_called_sweep_is_no_number_of_sweeps() -> None:
    rows = "".join(f"{470 + i / 10:.1f},{-100 - i % 3},{-90 - i % 4}\n" for i in range(60))
    scan = Scan.from_text("MHz,Sweep 1,Sweep 2\n" + rows)
    assert scan.levels_dbm.shape == (2, 60)
    assert scan.levels_dbm[1, 3] == -93


def test_times_within_a_sweep_do_not_part_it() -> None:
    rows = "".join(
        f"20:00:{i // 20:02d},{470 + (i % 100) / 10:.1f},{-100 + i // 100}\n" for i in range(300)
    )
    scan = Scan.from_text("Time,MHz,dBm\n" + rows)
    assert scan.levels_dbm.shape == (3, 100)
    assert scan.sweep_names == ()
    assert scan.levels_dbm[:, 5].tolist() == [-100, -99, -98]


def test_sweeps_keep_their_names() -> None:
    assert Scan.from_text(SWEEPS["a column of times"]).sweep_names == ("20:00", "20:05")


def test_unsorted_points_are_sorted_and_said() -> None:
    shuffled = "471,-101\n473,-103\n470,-100\n472,-102\n"
    for text in (shuffled, "473,-103\n472,-102\n471,-101\n470,-100\n"):
        scan = Scan.from_text(text)
        assert scan.levels_dbm.tolist() == [[-100, -101, -102, -103]]
        assert any("order" in warning for warning in scan.warnings)


def test_duplicates_keep_the_higher_level_and_are_said() -> None:
    scan = Scan.from_text("470,-100\n471,-80\n471,-101\n472,-102\n473,-103\n")
    assert scan.levels_dbm.tolist() == [[-100, -80, -102, -103]]
    assert any("1 frequency stands more than once" in warning for warning in scan.warnings)


@pytest.mark.parametrize("hole", ["n/a", "", "--", "NaN"])
def test_missing_levels_are_gaps(hole: str) -> None:
    text = "MHz,dBm\n" + "".join(f"{470 + i / 10:.1f},-100\n" for i in range(20))
    scan = Scan.from_text(text.replace("471.0,-100", f"471.0,{hole}"))
    assert len(scan) == 19
    assert 471_000_000 not in scan.frequency_hz.tolist()
    assert any("1 level is missing" in warning for warning in scan.warnings)
    assert any("not known: 470.950-471.050 MHz" in warning for warning in scan.warnings)


def test_a_sweep_with_a_hole_among_others_leaves_no_gap() -> None:
    scan = Scan.from_arrays(
        [470e6, 471e6, 472e6],
        [[-100.0, math.nan, -102.0], [-90.0, -91.0, -92.0]],
        resolution_bandwidth=1_000,
    )
    assert scan.max_hold().tolist() == [-90, -91, -92]
    assert np.allclose(scan.mean()[1], -91)
    assert len(scan.spans) == 1


def test_mixed_resolution_is_no_gap_and_is_said() -> None:
    fine = [470_000_000 + 10_000 * i for i in range(200)]
    coarse = [fine[-1] + 100_000 * (i + 1) for i in range(100)]
    scan = Scan.from_arrays(fine + coarse, [-100.0] * 300)
    assert len(scan.spans) == 1
    assert any("steps differ" in note for note in scan.notes)


def test_steps_that_alternate_are_no_gaps_but_missing_points_are() -> None:
    where = np.cumsum([0, *[3_000, 7_000] * 100]) + 470_000_000
    assert len(Scan.from_arrays(where, np.full(201, -100.0)).spans) == 1
    regular = 470_000_000 + 10_000 * np.arange(200)
    kept = np.delete(regular, [50, 52, 120, 121, 122])
    scan = Scan.from_arrays(kept, np.full(195, -100.0))
    assert scan.spans == [
        (469_995_000, 470_495_000),
        (470_505_000, 470_515_000),
        (470_525_000, 471_195_000),
        (471_225_000, 471_995_000),
    ]
    # Points that overlap by their bandwidth leave no gap of one.
    wide = Scan.from_arrays(kept, np.full(195, -100.0), resolution_bandwidth="30 kHz")
    assert len(wide.spans) == 2


def test_arrays_frames_and_text_agree() -> None:
    frame = {"Frequency (Hz)": WHERE, "Level (dBm)": LEVELS}
    expected = Scan.from_arrays(WHERE, LEVELS)
    made: list[Any] = [pd.DataFrame(frame), pl.DataFrame(frame), frame]
    for one in made:
        assert Scan.from_frame(one) == expected
    megahertz = Scan.from_arrays([hz / 1e6 for hz in WHERE], LEVELS, frequency_unit="MHz")
    assert megahertz == expected
    text = Scan.from_text(FORMS["comma, header"])
    assert text == expected
    assert text != Scan.from_arrays(WHERE, [*LEVELS[:3], -100])


def test_frames_with_a_sweep_column() -> None:
    frame = pd.DataFrame(
        {"sweep": ["a"] * 4 + ["b"] * 4, "MHz": [470, 471, 472, 473] * 2, "dBm": [-100.0] * 8}
    )
    assert Scan.from_frame(frame).levels_dbm.shape == (2, 4)
    arrays = Scan.from_arrays(
        frame["MHz"], frame["dBm"], sweep=frame["sweep"], frequency_unit="MHz"
    )
    assert arrays.sweep_names == ("a", "b")


def test_files_in_other_encodings(tmp_path: Path) -> None:
    text = "MHz;dBµV\n470;7\n471;8\n"
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        path = tmp_path / f"{encoding}.csv"
        path.write_bytes(text.encode(encoding))
        scan = Scan.from_file(path)
        assert scan.frequency_hz.tolist() == [470_000_000, 471_000_000]
        assert scan.max_hold().max() < -98, encoding
        assert scan.name == encoding


def test_a_scan_is_frozen_and_travels() -> None:
    scan = demo_scan(sweeps=2)
    assert pickle.loads(pickle.dumps(scan)) == scan
    scan.occupied()
    assert pickle.loads(pickle.dumps(scan)) == scan
    with pytest.raises(AttributeError, match="immutable"):
        scan.name = "other"  # type: ignore[misc]
    with pytest.raises(ValueError, match="read-only"):
        scan.levels_dbm[0, 0] = 0
    assert repr(scan) == "Scan('invented', 470.000-608.000 MHz, 5521 points, 2 sweeps)"
    assert "<pre>" in scan._repr_html_()
    assert scan.taken == dt.date(2031, 5, 1)


def test_the_demonstration_says_it_is_invented() -> None:
    assert "invented" in demo_text(seed=3).splitlines()[0].lower()
    assert demo_text(seed=3) == demo_text(seed=3) != demo_text(seed=4)
