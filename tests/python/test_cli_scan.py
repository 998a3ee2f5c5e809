"""The command `sidon scan`: text, CSV, picture, exclusions, and faults of all arguments at once."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest

from sidon import Scan
from sidon.cli import main
from sidon.demo import study_text
from sidon.spectrum.scan import demo_scan, demo_text, tv_channels
from sidon.view.scan import save_scan, scan_figure

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "foh.csv").write_text(demo_text(seed=1, sweeps=5), encoding="utf-8")
    (tmp_path / "study.toml").write_text(study_text(), encoding="utf-8")
    return tmp_path


def test_a_scan_in_words(folder: Path, capsys: Capture) -> None:
    assert (
        main(["scan", "foh.csv", "--taken", "2031-05-01", "--spot", "invented mix position"]) == 0
    )
    said = capsys.readouterr()
    assert said.err == ""
    for words in (
        "Scan foh, 470.000-608.000 MHz, 5521 points, 5 sweeps",
        "taken 2031-05-01, spot invented mix position",
        "Floor -11",
        "up to -68.0 dBm at 491.600 MHz, in 100 % of the sweeps",
        "resolution bandwidth 30 kHz, as written above the table",
        "Caution: A scan hears one spot",
        "nothing here is a permission",
    ):
        assert words in said.out, words


def test_a_scan_beside_a_study_and_a_limit(folder: Path, capsys: Capture) -> None:
    assert main(["scan", "foh.csv", "--study", "study.toml", "--limit-dbm", "-84"]) == 0
    said = capsys.readouterr().out
    assert "Asked ranges: the scan covers all of it." in said
    assert "TV channels, listed and seen: 15, 16, 19, 22, 23, 27, 34." in said
    assert "TV channels, seen, not listed: 26." in said
    assert "TV channels, listed, not seen: 35." in said
    assert "A listed channel that is not seen here stays occupied." in said
    assert "Channel power against -84 dBm:\n  above: 15 (-62." in said


def test_a_study_of_a_region(folder: Path, capsys: Capture) -> None:
    text = study_text()
    start, end = text.index("[availability]"), text.index("[[profiles]]")
    own = '[availability]\nregion = "us"\nlicensed = true\noccupied = [15, 35]\n'
    own += "ranges = [[470, 608]]\n"
    Path("us.toml").write_text(f"{text[:start]}{own}\n{text[end:]}", encoding="utf-8")
    assert main(["scan", "foh.csv", "--study", "us.toml", "--limit-dbm", "-84"]) == 0
    said = capsys.readouterr().out
    assert "TV channels, not covered by the scan: 2, 3, 4," in said
    assert "TV channels, listed and seen: 15." in said
    assert "TV channels, listed, not seen: 35." in said
    assert "a measurement, not a permission" in said


def test_outputs(folder: Path, capsys: Capture) -> None:
    outputs = ["--csv", "t.csv", "--picture", "p.png", "--exclusions", "e.toml"]
    assert main(["scan", "foh.csv", *outputs]) == 0
    assert "Written: t.csv, p.png, e.toml" in capsys.readouterr().out
    with Path("t.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 5521
    assert rows[0]["frequency_hz"] == "470000000"
    # What was written is a scan again.
    again = Scan.from_file("t.csv", level="max_hold_dbm")
    assert np.array_equal(again.frequency_hz, demo_scan().frequency_hz)
    found = tomllib.loads(Path("e.toml").read_text(encoding="utf-8"))["availability"]["exclusions"]
    assert len(found) >= 10
    assert matplotlib.image.imread("p.png").shape[1] == 1755


def test_several_files_are_merged(folder: Path, capsys: Capture) -> None:
    Path("night.csv").write_text(demo_text(seed=2, sweeps=5), encoding="utf-8")
    assert main(["scan", "foh.csv", "night.csv", "--picture", "p.svg", "--csv", "t.csv"]) == 0
    assert "seen by foh, night" in capsys.readouterr().out
    assert Path("p.svg").stat().st_size > 10_000


def test_what_is_not_covered_is_said(folder: Path, capsys: Capture) -> None:
    lines = demo_text(seed=1, sweeps=2).splitlines()
    Path("part.csv").write_text("\n".join(lines[:2000]), encoding="utf-8")
    assert main(["scan", "part.csv", "--study", "study.toml"]) == 0
    said = capsys.readouterr().out
    assert "not covered, so not known to be quiet: 519.9125-548.100, 577.900-608.000 MHz" in said
    assert "not covered by the scan: 24, 25," in said


def test_options_of_the_rule(folder: Path, capsys: Capture) -> None:
    rule = ["--threshold-dbm", "-65", "--bridge", "1 MHz", "--window", "50 MHz"]
    assert main(["scan", "foh.csv", *rule, "--averages", "2", "--held", "1"]) == 0
    said = capsys.readouterr().out
    assert "threshold -65.0 dBm, as asked" in said
    assert "Occupied: 1 interval" in said


def test_columns_by_option(folder: Path, capsys: Capture) -> None:
    Path("odd.csv").write_text("a;b;c\n470;1,5;-100\n471;2,5;-101\n472;3,5;-99\n", encoding="utf-8")
    assert main(["scan", "odd.csv"]) == 2
    said = capsys.readouterr().err
    assert "two columns of odd.csv look like frequency: 1 'a' and 2 'b'" in said
    assert "name the one with --frequency, by its name" in said
    options = ["--frequency", "a", "--level", "3", "--frequency-unit", "MHz", "--level-unit", "dBm"]
    assert main(["scan", "odd.csv", *options, "--resolution-bandwidth", "1 MHz"]) == 0
    assert "3 points" in capsys.readouterr().out


def test_all_faults_come_together(folder: Path, capsys: Capture) -> None:
    bad = ["--averages", "many", "--above-db", "-3", "--taken", "soon", "--limit-dbm", "-84"]
    assert (
        main(["scan", "foh.csv", "none.csv", "--csv", "foh.csv", "--picture", "p.bmp", *bad]) == 2
    )
    said = capsys.readouterr().err
    for words in (
        "--averages: 'many' is not a whole number",
        "--above-db: -3.0 is no number from 0 to 100",
        "--taken: 'soon' is no date",
        "none.csv: there is no such file",
        "--csv: foh.csv is the same file as foh.csv",
        "--picture: the name 'p.bmp' does not say what to draw",
        "--limit-dbm: there is no raster of TV channels without a study",
    ):
        assert words in said, words
    assert not Path("p.bmp").exists()


def test_the_picture_is_labelled_and_shows_gaps() -> None:
    scan = demo_scan(sweeps=3)
    kept = (scan.frequency_hz < 500_000_000) | (scan.frequency_hz > 510_000_000)
    holed = Scan.from_arrays(
        scan.frequency_hz[kept], scan.levels_dbm[:, kept], resolution_bandwidth="30 kHz"
    )
    channels = tv_channels("470 MHz", "6 MHz", 14, 36)
    figure = scan_figure(holed, channels=channels, listed=[15, 35])
    assert {axes.get_ylabel() for axes in figure.axes} == {"level (dBm in 30 kHz)"}
    assert figure.axes[-1].get_xlabel() == "frequency (MHz)"
    labels = [text.get_text() for text in figure.legends[0].get_texts()]
    assert labels == [
        "max hold",
        "mean power",
        "noise floor (estimate)",
        "threshold",
        "occupied",
        "not heard: not known",
        "listed as occupied TV channel",
    ]
    assert {text.get_text() for axes in figure.axes for text in axes.texts} >= {"14", "36"}


def test_the_picture_says_which_wide_gap_it_leaves_out() -> None:
    scan = demo_scan(sweeps=1)
    kept = (scan.frequency_hz < 520_000_000) | (scan.frequency_hz > 545_000_000)
    holed = Scan.from_arrays(
        scan.frequency_hz[kept], scan.levels_dbm[:, kept], resolution_bandwidth="30 kHz"
    )
    figure = scan_figure(holed)
    labels = [text.get_text() for text in figure.legends[0].get_texts()]
    assert "not heard: not known" not in labels
    assert [axes.get_xlabel() for axes in figure.axes] == [
        "not heard, not known, and not drawn: 519.9875-545.0125 MHz",
        "frequency (MHz)",
    ]


def test_a_picture_of_very_many_points_keeps_every_carrier() -> None:
    where = 470_000_000 + 500 * np.arange(200_000, dtype=np.int64)
    levels = np.full(len(where), -110.0) + np.arange(len(where)) % 5
    levels[123_457] = -50
    figure = scan_figure(Scan.from_arrays(where, levels))
    lines = [line for axes in figure.axes for line in axes.lines]
    assert max(len(line.get_xdata()) for line in lines) < 4_000  # type: ignore[arg-type]
    assert max(float(np.nanmax(np.asarray(line.get_ydata()))) for line in lines) == -50


def test_one_scan_gives_one_picture(tmp_path: Path) -> None:
    for name in ("a.svg", "b.svg"):
        save_scan(demo_scan(sweeps=2), tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


def test_faults_of_options_stand_once_and_beside_those_of_files(
    folder: Path, capsys: Capture
) -> None:
    Path("two.csv").write_text("Start MHz,Stop MHz,dBm\n470,471,-100\n471,472,-101\n")
    Path("empty.csv").write_text("")
    bad = ["--level", "foo", "--frequency-unit", "parsec", "--resolution-bandwidth", "x"]
    assert main(["scan", "foh.csv", "empty.csv", "two.csv", "none.csv", *bad]) == 2
    said = capsys.readouterr().err
    assert said.startswith("sidon: 7 faults")
    for words in (
        "--frequency-unit: 'parsec' is no unit",
        "--resolution-bandwidth: 'x'",
        "there is no column 'foo' in foh.csv",
        "there is no column 'foo' in two.csv",
        "two columns of two.csv look like frequency",
        "empty.csv: it is empty",
        "none.csv: there is no such file",
    ):
        assert said.count(words) == 1, words


def test_no_option_blames_the_file(folder: Path, capsys: Capture) -> None:
    bad = ["--delimiter", "ab", "--decimal", "z", "--averaged-in", "foo", "--taken", "x"]
    bad += ["--averages", "0", "--limit-dbm", "x", "--bridge", "-1", "--level-unit", "dBfoo"]
    assert main(["scan", "foh.csv", *bad]) == 2
    said = capsys.readouterr().err
    assert said.startswith("sidon: 8 faults")
    assert "foh.csv" not in said
    for option in bad[::2]:
        assert said.count(f"  {option}: ") == 1, option


def test_options_are_named_as_on_the_command_line(folder: Path, capsys: Capture) -> None:
    Path("dbuv.csv").write_text("MHz,x\n" + "".join(f"{470 + i},{9 + i % 2}\n" for i in range(9)))
    assert main(["scan", "dbuv.csv"]) == 2
    said = capsys.readouterr().err
    assert "say --level-unit dBuV; if it is another column, name --level\n" in said
    Path("odd.csv").write_text("Left,Right\n-90,-100\n-91,-101\n")
    assert main(["scan", "odd.csv"]) == 2
    assert "name it with --frequency, by its name or its number" in capsys.readouterr().err
    rows = "".join(f"{470 + i},{-90 + i % 3},{-99 + i % 3}\n" for i in range(9))
    Path("three.csv").write_text("MHz,dBm peak,dBm average\n" + rows)
    assert main(["scan", "three.csv"]) == 0
    said = capsys.readouterr().out
    assert "3 'dBm average' looks like another trace of the same sweep and is not read" in said
    assert "name --level to choose" in said


def test_channels_that_cannot_be_told_are_grouped(folder: Path, capsys: Capture) -> None:
    lines = demo_text(seed=1, sweeps=2).splitlines()
    Path("part.csv").write_text("\n".join(lines[:2000]), encoding="utf-8")
    options = ["--study", "study.toml", "--limit-dbm", "-110"]
    assert main(["scan", "part.csv", *options]) == 0
    said = capsys.readouterr().out
    assert said.count("cannot tell: ") == said.count("too high for this limit") == 1
    assert main(["scan", "part.csv", *options[:-1], "-20"]) == 0
    # Channel 22 is 518 to 524 MHz; the scan ends at 519.9125 MHz.
    assert "cannot tell: 22 (31.9 %): only so much" in capsys.readouterr().out


def test_exclusions_for_a_study_hold_tv_that_is_not_listed(folder: Path, capsys: Capture) -> None:
    assert main(["scan", "foh.csv", "--study", "study.toml", "--exclusions", "e.toml"]) == 0
    found = tomllib.loads(Path("e.toml").read_text(encoding="utf-8"))["availability"]["exclusions"]
    rows = [row["range"] for row in found if row["reason"].endswith("TV on 26, not listed")]
    # Channel 26 is 542 to 548 MHz, and the guard of the study half a megahertz.
    assert rows == [["541.500 MHz", "548.500 MHz"]]
    capsys.readouterr()


def test_exit_codes_are_those_of_this_command(capsys: Capture) -> None:
    with pytest.raises(SystemExit):
        main(["scan", "--help"])
    said = capsys.readouterr().out
    assert "the scans were read" in said
    assert "required link" not in said


def test_an_error_names_the_file_that_was_asked_for(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError) as caught:
        demo_scan(sweeps=1).to_csv(tmp_path / "none" / "x.csv")
    assert caught.value.filename == str((tmp_path / "none" / "x.csv").resolve())
