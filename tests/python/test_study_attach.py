"""Files named in a study: read once, relative to the study, with every fault in one report."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon.study import attach as rooms
from sidon.study.attach import AttachedFile, Slot, attach, read_table


def _numbers(file: AttachedFile) -> list[int]:
    faults, found = [], []
    for line, word in enumerate(file.text.split(), 1):
        if word.isdecimal():
            found.append(int(word) * file.options.get("times", 1))
        else:
            place = f"{file.name}, line {line}"
            faults.append(sidon.Fault(place, f"{word!r} is no number", "write a number"))
    if faults:
        raise sidon.StudyError(faults)
    return found


ONE = Slot(("availability", "numbers"), "rows", _numbers)
MANY = Slot(("availability", "lists"), "rows", _numbers, many=True, most_bytes=20)
NAMED = Slot(("area",), "data", read_table, is_file=lambda text: text.endswith(".toml"))
SLOTS = (ONE, MANY, NAMED)


def test_the_content_takes_the_place_of_the_name(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "a.txt").write_bytes(b"\xef\xbb\xbf1 2")
    (tmp_path / "area.toml").write_text("width = 6.5")
    written = {
        "availability": {
            "numbers": {"file": "sub/a.txt", "times": 10},
            "lists": ["sub/a.txt", {"rows": [7]}],
        },
        "area": "area.toml",
    }
    whole, faults = attach(written, tmp_path, slots=SLOTS)
    assert faults == []
    assert isinstance(whole, dict)
    assert whole["availability"] == {
        "numbers": {"file": "sub/a.txt", "times": 10, "rows": [10, 20]},
        "lists": [{"file": "sub/a.txt", "rows": [1, 2]}, {"rows": [7]}],
    }
    assert whole["area"]["data"]["width"] == pytest.approx(6.5)
    # What was attached once stands alone: nothing is read again, and nothing is there to read.
    assert attach(whole, tmp_path / "nowhere", slots=SLOTS) == (whole, [])
    assert written["area"] == "area.toml"


def test_what_names_no_file_is_left_alone() -> None:
    written: dict[str, Any] = {"area": "home", "availability": {"numbers": [1], "lists": 3}}
    assert attach(written, slots=SLOTS) == (written, [])
    assert attach([1], slots=SLOTS) == ([1], [])
    assert attach({"availability": 5}, slots=SLOTS) == ({"availability": 5}, [])


def test_faults_of_all_files_come_together(tmp_path: Path) -> None:
    (tmp_path / "bad.txt").write_text("1\nx\n3\ny\n")
    (tmp_path / "long.txt").write_text("1\n" * 11)
    (tmp_path / "latin.txt").write_bytes(b"1\n\xe9\n")
    (tmp_path / "area.toml").write_text("a = 1\nb = = 2\n")
    os.mkfifo(tmp_path / "pipe")
    names = ["none.txt", "long.txt", "latin.txt", "pipe", ".", "", "a\nb"]
    written = {
        "availability": {"numbers": "bad.txt", "lists": names, "edge_guard": 1},
        "area": "area.toml",
    }
    whole, faults = attach(written, tmp_path, slots=SLOTS)
    assert whole == {"availability": {"lists": [], "edge_guard": 1}}
    assert [(fault.place, fault.what.split(":")[0]) for fault in faults] == [
        ("bad.txt, line 2", "'x' is no number"),
        ("bad.txt, line 4", "'y' is no number"),
        ("availability.lists[0]", "there is no file none.txt"),
        ("availability.lists[1]", "long.txt is larger than 20 bytes"),
        ("latin.txt, line 2", "it is not UTF-8 text"),
        ("availability.lists[3]", "pipe is a named pipe"),
        ("availability.lists[4]", ". is a directory"),
        ("availability.lists[5]", "'' is not the name of a file"),
        ("availability.lists[6]", "'a\\nb' is not the name of a file"),
        ("area.toml, line 2, column 5", "it is not TOML"),
    ]
    assert str(tmp_path) in faults[2].remedy
    assert all(fault.remedy for fault in faults)


def test_the_number_of_files_is_bounded(tmp_path: Path) -> None:
    whole, faults = attach({"availability": {"lists": ["none"] * 1001}}, tmp_path, slots=(MANY,))
    assert (whole, len(faults)) == ({"availability": {}}, 1)


def test_a_study_file_names_files_beside_itself(
    tmp_path: Path, study_fields: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    slot = Slot(("zones",), "name", lambda file: file.text.strip(), many=True)
    monkeypatch.setattr(rooms, "SLOTS", (slot,))
    (tmp_path / "hall.txt").write_text("hall\n")
    study_fields["zones"] = [{"file": "hall.txt"}, {"name": "yard"}, {"file": "gone.txt"}]
    study_fields["nmae"] = 1
    (tmp_path / "study.json").write_text(json.dumps(study_fields))
    with pytest.raises(sidon.StudyError) as beside:
        sidon.Study.from_file(tmp_path / "study.json")
    with pytest.raises(sidon.StudyError) as elsewhere:
        sidon.Study.from_dict(study_fields)
    missing = {
        error.value: [f.place for f in error.value.faults if "there is no file" in f.what]
        for error in (beside, elsewhere)
    }
    assert missing == {
        beside.value: ["zones[2]"],
        elsewhere.value: ["zones[0]", "zones[2]"],
    }
    # Other faults stand beside them, and what could not be read may hide more.
    assert all({"nmae"} < {f.place for f in error.faults} and error.further for error in missing)
