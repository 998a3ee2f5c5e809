"""A capacity shown: text, CSV, tables, picture, and the command line."""

from __future__ import annotations

import csv
import json
import os
import pickle
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from capacity_cases import answer, question

import sidon
from sidon.cli import main
from sidon.view.capacity import draw

Fields = dict[str, Any]


@pytest.fixture(scope="module")
def found() -> sidon.Capacity:
    fields = question(zones=["hall"])
    del fields["capacity"]
    fields["profiles"].append(
        fields["profiles"][0]
        | {"name": "ears", "kind": "in-ear transmitter", "ranges": [[470, 476], [600, 606]]}
    )
    fields["demand"] = [
        {"id": "vox", "count": 5, "profile": "hand", "zone": "hall", "spares": 1},
        {"id": "ears", "count": 2, "profile": "ears", "zone": "hall"},
    ]
    return answer(fields, classes="all")


def test_it_is_one_value(found: sidon.Capacity) -> None:
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(AttributeError):
        found.seed = 1  # type: ignore[misc]
    assert "comfortable" in repr(found)
    assert "more rows" in repr(found)
    html = found._repr_html_()
    assert html.startswith("<table>")
    assert "limiter" in html


def test_the_summary_keeps_within_a_hundred_columns(found: sidon.Capacity) -> None:
    lines = found.summary().splitlines()
    assert max(map(len, lines)) <= 100
    text = " ".join(found.summary().split())
    for part in (
        "Capacity: One channel (invented)",
        "hand 470-488: 5 asked and 1 spare, 8 fit",
        "cannot be told",
        "In one air, spares included: hand 470-488 and ears all:",
        "now: 6 hand and 2 ears wanted, 6 and 2 fit",
        "in 3 years: 9 hand and 3 ears wanted: ",
        "comfortable: fits now and in 3 years, spares included",
        "asked in 3 y left",
        "not checked: the study says nothing about it: ",
        "what the search found in its time",
        "What if: hand 470-488: channel 14 on the air: 0 (-8)",
        "guards on A+B-C waived",
        "Estimates".lower(),
        "use a limiter",
        "to tune (MHz)",
    ):
        assert part in text, part


def test_columns_and_frame_hold_every_row(found: sidon.Capacity) -> None:
    table = found.columns()
    assert table.n_rows == len(found.rows)
    assert list(table["fits"]) == [row.fits for row in found.rows]
    assert list(table["headroom"]) == [row.headroom for row in found.rows]
    assert list(found.frame()["verdict"]) == [row.verdict for row in found.rows]
    assert not table["fits"].flags.writeable


def test_the_csv_holds_every_number_with_its_list(found: sidon.Capacity, tmp_path: Path) -> None:
    found.to_csv(tmp_path / "c.csv")
    with (tmp_path / "c.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(found.rows) + len(found.what_ifs) + len(found.mixes)
    assert {row["what"] for row in rows} == {"row", "what if", "mix"}
    for row in rows:
        tuned = [cell for cell in row["frequencies_mhz"].split("; ") if cell]
        assert len(tuned) == int(row["fits"])
    assert rows[0]["frequencies_mhz"].startswith("470.")


def test_the_picture_labels_what_it_shows(found: sidon.Capacity) -> None:
    figure = draw(found)
    *strips, counts = figure.axes
    assert strips[0].get_xlabel() == "frequency (MHz)"
    assert counts.get_xlabel().startswith("carriers (count")
    names = [label.get_text() for label in strips[0].get_yticklabels()]
    assert names[0] == "hand  470-488"
    assert "vhf  174-198" not in names  # nothing of it is checked
    written = {text.get_text() for text in counts.texts}
    assert "8: comfortable" in written
    numbers = {text.get_text() for text in strips[0].texts}
    assert {"15", "16"} <= numbers
    labels = {text.get_text() for text in figure.legends[0].get_texts()}
    assert {"not checked", "asked now", "with spares in 3 years", "fit: comfortable"} <= labels
    small = figure.legends[0].get_title().get_text()
    assert "Estimates, not permissions" in small
    assert "invented (2031-05-01)" in small
    # Rows stand level with their counts.
    assert strips[0].get_ylim() == counts.get_ylim()


def test_the_picture_is_one_file_for_one_answer(found: sidon.Capacity, tmp_path: Path) -> None:
    for name in ("a.svg", "b.svg"):
        found.picture(tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    with pytest.raises(ValueError, match="use png, pdf, svg"):
        found.picture(tmp_path / "a.doc")


def written(fields: Fields, tmp_path: Path) -> str:
    path = tmp_path / "study.json"
    path.write_text(json.dumps(fields), encoding="utf-8")
    return str(path)


def test_the_command_answers_and_writes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table, picture = tmp_path / "c.csv", tmp_path / "c.png"
    outputs = ["--csv", str(table), "--picture", str(picture)]
    study = written(question(), tmp_path)
    assert main(["capacity", study, "--iterations", "300", *outputs, "--classes", "vhf"]) == 0
    said = capsys.readouterr()
    assert "hand  " in said.out
    assert "vhf" in said.out
    assert "Written:" in said.out
    assert "0 of 4 questions; vhf 174-198" in said.err
    assert table.is_file()
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_what_does_not_fit_is_exit_code_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = written(question(capacity={"ask": 9}), tmp_path)
    arguments = ["capacity", study, "--iterations", "100", "--quiet", "--no-what-if"]
    assert main(arguments) == 1
    said = capsys.readouterr()
    assert "too few" in said.out
    assert "What if" not in said.out
    assert said.err == ""


def test_a_study_that_asks_nothing_is_told_how_to_ask(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fields = question()
    del fields["capacity"], fields["profiles"]
    assert main(["capacity", written(fields, tmp_path)]) == 2
    said = capsys.readouterr().err
    assert "add [capacity] with ask = 12" in said
    assert "the key 'zones' is missing" not in said
    # Half of a plan is mended as a plan.
    fields["zones"] = ["hall"]
    assert main(["capacity", written(fields, tmp_path)]) == 2
    assert "the key 'demand' is missing" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="SIGINT cannot be sent there")
def test_ctrl_c_tells_what_was_found_so_far(tmp_path: Path) -> None:
    fields = question()
    fields["availability"]["occupied"] = []
    command = "import sys; from sidon.cli import main; sys.exit(main())"
    arguments = ["capacity", written(fields, tmp_path), "--seconds", "100"]
    with subprocess.Popen(
        [sys.executable, "-c", command, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        assert "questions; hand" in process.stderr.readline()
        process.send_signal(signal.SIGINT)
        said, complaint = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "470-488" in said
    assert "sidon: stopping; telling what was found so far\n" in complaint
    assert "Traceback" not in complaint


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["none.toml"], "there is no such file"),
        (["{study}", "--seconds", "nan"], "--seconds"),
        (["{study}", "--classes", "all,none"], "--classes: the class 'all' is unknown"),
        (["{study}", "--picture", "c.doc"], ".png, .pdf, .svg"),
        (["{study}", "--csv", "{study}"], "is the same file as the study"),
    ],
)
def test_bad_arguments_are_exit_code_2(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    message: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    study = written(question(), tmp_path)
    assert main(["capacity", *(text.format(study=study) for text in arguments)]) == 2
    assert message in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["study.json"]


def test_a_study_that_only_asks_cannot_be_planned(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = written(question(), tmp_path)
    assert main(["plan", study, "--out", str(tmp_path / "p.json")]) == 2
    assert "asks how many fit" in capsys.readouterr().err


def test_a_picture_of_nothing_that_is_checked_says_so() -> None:
    fields = question()
    fields["profiles"][0]["ranges"] = [[700, 706]]
    figure = draw(answer(fields, what_if=False))
    assert "not drawn: hand 700-706" in figure.legends[0].get_title().get_text()


def test_verdicts_stand_beside_the_counts_and_inside_the_picture(found: sidon.Capacity) -> None:
    figure = draw(found)
    figure.canvas.draw()
    counts = figure.axes[-1]
    written = [text for text in counts.texts if ": " in text.get_text()]
    assert len(written) > 1
    for text in written:
        box = text.get_window_extent()
        assert box.x0 >= counts.get_window_extent().x1
        assert box.x1 <= figure.bbox.x1


def test_what_cannot_be_told_is_in_the_legend() -> None:
    fields = question()
    fields["profiles"][0]["ranges"] = [[470, 476], [600, 606]]
    fields["capacity"]["ask"] = 30
    figure = draw(answer(fields, what_if=False))
    assert "8: cannot be told" in {text.get_text() for text in figure.axes[-1].texts}
    labels = {text.get_text() for text in figure.legends[0].get_texts()}
    assert {"fit: cannot be told", "fit: too few", "not checked"} <= labels
