"""Requests as a table of any kind: what they ask, and every fault at its row and column."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import polars as pl
import pytest

import sidon

Faults = Callable[[dict[str, Any]], dict[str, sidon.Fault]]

HEADERS = ["Act", "Mic name", "Stage", "Type", "How many", "When", "Freq", "Backup", "Phone"]
# Invented: what an act might send in.
ROWS = [
    ["The Examples", "lead; harmony", "hall", "hand", "", "show", "471.5; 472.5", "", "12"],
    ["The Examples", "", "hall", "ears", "2", "rehearsal, show", "", "50 %", "12"],
    ["Placeholder Choir", "", "yard", "hand", "3", "", "", "1", ""],
]
COLUMNS = {
    "party": "Act",
    "link": "Mic name",
    "zone": "Stage",
    "profile": "Type",
    "count": "How many",
    "windows": "When",
    "wanted": "Freq",
    "spares": "Backup",
}
OPTIONS: dict[str, Any] = {"columns": COLUMNS, "ignore": ["Phone"]}


def records(rows: list[list[str]]) -> list[dict[str, Any]]:
    return [dict(zip(HEADERS, row, strict=True)) for row in rows]


def with_rows(fields: dict[str, Any], rows: object, **options: Any) -> dict[str, Any]:
    return {**fields, "requests": {"rows": rows, **OPTIONS, **options}}


def csv_of(rows: list[list[str]], delimiter: str = ",") -> str:
    lines = [HEADERS, *rows]
    return "\n".join(delimiter.join(f'"{cell}"' for cell in line) for line in lines) + "\n"


def test_rows_become_links_of_their_party(study_fields: dict[str, Any]) -> None:
    study = sidon.Study.from_dict(with_rows(study_fields, records(ROWS)))
    asked = [row for row in study.model.demand if row.party]
    assert [row.link_ids for row in asked] == [
        ["lead", "harmony"],
        ["The Examples ears-1", "The Examples ears-2"],
        ["Placeholder Choir hand-1", "Placeholder Choir hand-2", "Placeholder Choir hand-3"],
    ]
    assert [row.spare_count for row in asked] == [0, 1, 1]
    assert asked[0].wanted == [471_500_000, 472_500_000]
    assert asked[1].windows == ["rehearsal", "show"]
    assert [row.zone for row in asked] == ["hall", "hall", "yard"]
    # What was read once needs no table any more.
    assert sidon.Study.from_dict(study.to_dict()) == study


@pytest.mark.parametrize("kind", ["pandas", "polars", "arrow-like", "columns", "numbers"])
def test_every_kind_of_table_says_the_same(kind: str, study_fields: dict[str, Any]) -> None:
    expected = sidon.Study.from_dict(with_rows(study_fields, records(ROWS)))
    columns = {header: [row[i] for row in ROWS] for i, header in enumerate(HEADERS)}

    class ArrowLike:
        def to_pydict(self) -> dict[str, list[str]]:
            return columns

    frame = pd.DataFrame(columns)
    numbers = frame.copy()
    numbers["How many"] = [float("nan"), 2.0, 3.0]
    numbers["Mic name"] = ["lead; harmony", None, None]
    table: object = {
        "pandas": frame,
        "polars": pl.DataFrame(columns),
        "arrow-like": ArrowLike(),
        "columns": columns,
        "numbers": numbers,
    }[kind]
    assert sidon.Study.from_dict(with_rows(study_fields, table)) == expected


@pytest.mark.parametrize("ending", ["csv", "semicolons.csv", "tsv", "json"])
def test_files_are_read_beside_the_study(
    ending: str, study_fields: dict[str, Any], tmp_path: Path
) -> None:
    expected = sidon.Study.from_dict(with_rows(study_fields, records(ROWS)))
    name = f"requests.{ending}"
    texts = {
        "csv": "\ufeff" + csv_of(ROWS).replace("\n", "\r\n"),
        "semicolons.csv": csv_of(ROWS, ";"),
        "tsv": csv_of(ROWS, "\t"),
        "json": json.dumps(records(ROWS)),
    }
    (tmp_path / name).write_bytes(texts[ending].encode())
    (tmp_path / "study.json").write_text(
        json.dumps({**study_fields, "requests": {"file": name, **OPTIONS}})
    )
    assert sidon.Study.from_file(tmp_path / "study.json") == expected


def test_a_table_alone_may_be_all_that_is_asked(
    study_fields: dict[str, Any], tmp_path: Path
) -> None:
    (tmp_path / "wishes.csv").write_text("party,zone,profile\nThe Examples,hall,hand\n")
    del study_fields["demand"], study_fields["locks"]
    study_fields["requests"] = "wishes.csv"
    study = sidon.Study(study_fields, folder=tmp_path)
    assert study.link_ids == ["The Examples hand-1"]


def test_defaults_fill_empty_cells(study_fields: dict[str, Any]) -> None:
    rows = [{"link": "a"}, {"link": "b", "zone": "yard", "priority": 7}]
    study_fields["requests"] = {
        "rows": rows,
        "defaults": {"zone": "hall", "profile": "hand", "priority": 2, "windows": "show"},
    }
    asked = sidon.Study.from_dict(study_fields).model.demand[-2:]
    assert [(row.zone, row.priority, row.windows) for row in asked] == [
        ("hall", 2, ["show"]),
        ("yard", 7, ["show"]),
    ]


def test_a_tuning_range_narrows_the_profile(study_fields: dict[str, Any]) -> None:
    rows = [
        {"link": "low", "tuning": "470-472 MHz"},
        {"link": "low too", "tuning": [[470, 472]]},
        {"link": "wide", "tuning": "400 to 600"},
        {"link": "two", "tuning": "470-472; 482-483"},
        {"link": "tiny", "tuning": "482.5-482.6"},
    ]
    study_fields["requests"] = {"rows": rows, "defaults": {"zone": "yard", "profile": "hand"}}
    study = sidon.Study.from_dict(study_fields)
    used = {row.link_ids[0]: row.profile for row in study.model.demand}
    assert used["low"] == used["low too"] == "hand 470-472"
    assert used["wide"] == "hand"
    made = {profile.name: profile for profile in study.model.profiles}
    assert made[used["two"]].ranges == [(470_000_000, 472_000_000), (482_000_000, 483_000_000)]
    # Narrower than the separation, which is no fault: one carrier fits.
    assert made[used["tiny"]].part_of == "hand"
    plan = study.plan(seed=1, iterations=5_000)
    stands = {row.link: row.frequency_hz for row in plan.assignments}
    assert all(470_000_000 <= stands[link] <= 472_000_000 for link in ("low", "low too"))
    assert 482_500_000 <= stands["tiny"] <= 482_600_000


def test_parties_may_use_the_same_names(study_fields: dict[str, Any], faults_of: Faults) -> None:
    rows = [{"party": act, "link": "vox", "zone": "hall", "profile": "hand"} for act in ("A", "B")]
    study_fields["requests"] = {"rows": rows}
    faults = faults_of(study_fields)
    fault = faults["requests, row 2, column 'link'"]
    assert fault.what == "the link 'vox' is named already in requests, row 1, column 'link'"
    study_fields["requests"]["prefix_party"] = True
    assert sidon.Study.from_dict(study_fields).link_ids[-2:] == ["A vox", "B vox"]


def test_rows_of_one_party_and_profile_count_on(study_fields: dict[str, Any]) -> None:
    row = {"party": "A", "count": 2, "zone": "hall", "profile": "hand", "spares": 1}
    study_fields["requests"] = {"rows": [row, {**row, "zone": "yard"}]}
    asked = sidon.Study.from_dict(study_fields).link_ids[-6:]
    assert asked == [
        "A hand-1",
        "A hand-2",
        "A hand-spare-1",
        "A hand-3",
        "A hand-4",
        "A hand 2-spare-1",
    ]


def test_every_fault_is_told_at_once(study_fields: dict[str, Any], tmp_path: Path) -> None:
    text = (
        "Act,Mic name,Stage,Type,How many,When,Freq,Backup,Level,Range\n"
        "A,vox-1,hall,hand,,,,,,\n"  # 2: a name of the demand
        "A,a,hal,hand,,late,,,,\n"  # 3: unknown zone and window
        "=A,b,hall,hnd,,,,,,\n"  # 4: a formula, an unknown profile
        "\n"
        'B,c,hall,hand,,,"471,5",many,500,600-610\n'  # 6
        "B,d,hall,hand,0,,471.5; 472.5,,,520-510\n"  # 7
        ",,,,2,,,,,\n"  # 8
        "B,e,hall,hand,1,,9999999999,,,\n"  # 9
    )
    (tmp_path / "in.csv").write_text(text)
    columns = {**COLUMNS, "priority": "Level", "tuning": "Range", "fixed": "Lock"}
    study_fields["requests"] = {"file": "in.csv", "columns": columns}
    study_fields["windows"][0]["end"] = "2031-05-01T09:00"
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study(study_fields, folder=tmp_path)
    told = [(fault.place, fault.what) for fault in caught.value.faults]

    def found(place: str, *words: str) -> bool:
        return any(p == place and all(word in what for word in words) for p, what in told)

    assert found("requests.columns.fixed", "no column 'Lock'")
    assert found("in.csv, row 2, column 'Mic name'", "'vox-1'", "demand[0]")
    assert found("in.csv, row 3, column 'Stage'", "'hal'")
    assert found("in.csv, row 3, column 'When'", "'late'")
    assert found("in.csv, row 4, column 'Act'", "formula")
    assert found("in.csv, row 4, column 'Type'", "'hnd'")
    assert found("in.csv, row 6, column 'Freq'", "decimal comma")
    assert found("in.csv, row 6, column 'Backup'", "'many'")
    assert found("in.csv, row 6, column 'Level'", "500")
    assert found("in.csv, row 6, column 'Range'", "outside the tuning")
    assert found("in.csv, row 7, column 'How many'", "0 links")
    assert found("in.csv, row 7, column 'Freq'", "2 frequencies")
    assert found("in.csv, row 7, column 'Range'", "ascend")
    assert found("in.csv, row 8, column 'Stage'", "no zone")
    assert found("in.csv, row 8, column 'Type'", "no profile")
    assert found("in.csv, row 8, column 'Mic name'", "names no links")
    assert found("in.csv, row 9, column 'Freq'", "hertz")
    assert found("windows[0]", "ends")
    assert len(told) == len(set(told))
    assert all(fault.remedy for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("requests", "place", "words"),
    [
        (5, "requests", "not a table"),
        ("gone.csv", "requests", "no file gone.csv"),
        ({"rows": []}, "requests.rows", "empty"),
        ({"rows": [3]}, "requests, row 1", "not a row"),
        ({"rows": {"link": ["a"], "zone": []}}, "requests", "different lengths"),
        ({"rows": {"link": 3}}, "requests.link", "not a column"),
        ({"rows": [{"link": " "}]}, "requests", "no row asks"),
        ({"rows": [{"Zon": "hall", "link": "a"}]}, "requests", "nobody reads the column 'Zon'"),
        ({"rows": [{"link": "a"}], "colums": {}}, "requests.colums", "unknown"),
        ({"rows": [{"link": "a"}], "columns": {"mic": "x"}}, "requests.columns.mic", "not allowed"),
        ({"file": "in.csv"}, "in.csv, row 1", "stands twice"),
        ({"file": "beyond.csv"}, "beyond.csv, row 2", "beyond the last header"),
        ({"file": "quote.csv"}, "quote.csv, row 2", "never closed"),
        ({"file": "after.csv"}, "after.csv, row 3", "not CSV"),
        ({"file": "head.csv"}, "head.csv", "no row below its headers"),
        ({"file": "blank.csv"}, "blank.csv", "no headers"),
        ({"file": "in.json"}, "in.json, line 1, column 2", "not JSON"),
        ({"file": "top.json"}, "top.json", "not a list"),
        ({"file": "in.xlsx"}, "in.xlsx", "does not say what it holds"),
    ],
)
def test_a_table_that_is_none_is_refused_with_a_remedy(
    requests: object, place: str, words: str, study_fields: dict[str, Any], tmp_path: Path
) -> None:
    files = {
        "in.csv": "link,zone,link\na,hall,b\n",
        "beyond.csv": "link,zone\na,hall,b\n",
        "quote.csv": 'link,zone\n"a,hall\n',
        "after.csv": 'link,zone\na,hall\n"b"c,hall\n',
        "head.csv": "link,zone\n",
        "blank.csv": "\n",
        "in.json": "[",
        "top.json": "{}",
        "in.xlsx": "",
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study({**study_fields, "requests": requests}, folder=tmp_path)
    places = {fault.place: fault for fault in caught.value.faults}
    assert words in places[place].what
    assert places[place].remedy


def test_rows_with_cells_too_many_and_too_few_are_all_told(
    study_fields: dict[str, Any], tmp_path: Path
) -> None:
    text = "link;profile;zone\na; b;hand;hall\nc\nd;hand;hal\ne;f;hand;hall\n"
    (tmp_path / "in.csv").write_text(text)
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study({**study_fields, "requests": "in.csv"}, folder=tmp_path)
    assert [fault.place for fault in caught.value.faults] == [
        "in.csv, row 2",
        "in.csv, row 3, column 'profile'",
        "in.csv, row 3, column 'zone'",
        "in.csv, row 5",
        "in.csv, row 4, column 'zone'",  # what is read only once all rows are
    ]


VALUES = {
    "zone": {"Main Stage": "hall"},
    "profile": {"SM digi": "hand"},
    "windows": {"Friday, late": "show", "both": "show; rehearsal"},
    "party": {"TBC": "Placeholder Choir"},
}


def test_values_are_mapped_whatever_their_case(study_fields: dict[str, Any]) -> None:
    rows = [
        {"link": "a", "zone": "MAIN  stage", "profile": "sm DIGI ", "windows": "friday, late"},
        {"link": "b", "zone": "yard", "profile": "hand", "windows": "Both", "party": "tbc"},
    ]
    study_fields["requests"] = {"rows": rows, "values": VALUES}
    a, b = sidon.Study.from_dict(study_fields).model.demand[-2:]
    assert (a.zone, a.profile, a.windows) == ("hall", "hand", ["show"])
    assert (b.zone, b.party, b.windows) == ("yard", "Placeholder Choir", ["show", "rehearsal"])


def test_values_nobody_knows_are_told_with_the_nearest(
    study_fields: dict[str, Any], faults_of: Faults
) -> None:
    row = {"link": "a", "zone": "Main stag", "profile": "hand", "windows": "SHOW"}
    study_fields["requests"] = {"rows": [row], "values": VALUES}
    told = faults_of(study_fields)
    assert told["requests, row 1, column 'windows'"].remedy == "did you mean 'show'?"
    assert "requests, row 1, column 'zone'" in told
    twice = {"zone": {"Stage": "hall", "stage ": "yard"}}
    study_fields["requests"] = {"rows": [row | {"zone": "stage"}], "values": twice}
    assert "hall" in faults_of(study_fields)["requests.values.zone"].what
    study_fields["requests"] = {"rows": [row], "values": {"zon": {}}}
    assert "requests.values.zon" in faults_of(study_fields)


def test_a_fixed_frequency_is_a_lock(study_fields: dict[str, Any], faults_of: Faults) -> None:
    row = {"link": "a", "zone": "hall", "profile": "hand", "wanted": "471,5", "fixed": "yes"}
    study_fields["requests"] = {"rows": [row], "decimal": ","}
    assert sidon.Study.from_dict(study_fields).model.locks["a"] == 471_500_000
    # Two locks on one frequency that share the air.
    study_fields["requests"]["rows"].append({**row, "link": "b"})
    faults = faults_of(study_fields)
    assert "contradictory locks" in faults["requests, row 2, column 'wanted'"].what
    # One after the other they may have it.
    for request, window in zip(
        study_fields["requests"]["rows"], ("rehearsal", "show"), strict=True
    ):
        request["windows"] = window
    assert sidon.Study.from_dict(study_fields).model.locks["b"] == 471_500_000


def test_a_column_twice_in_a_frame_is_told(study_fields: dict[str, Any], faults_of: Faults) -> None:
    frame = pd.DataFrame([["a", "b"]], columns=["link", "link"])
    faults = faults_of({**study_fields, "requests": {"rows": frame}})
    assert faults["requests"].what == "the column 'link' stands twice"


def test_lists_in_the_cells_of_a_frame_are_read(study_fields: dict[str, Any]) -> None:
    columns: dict[str, list[Any]] = {
        "link": [["a", "b"]],
        "zone": ["hall"],
        "profile": ["hand"],
        "wanted": [[471.5, 472.0]],
        "windows": [["show", "rehearsal"]],
    }
    for frame in (pd.DataFrame(columns), pl.DataFrame(columns)):
        study = sidon.Study.from_dict({**study_fields, "requests": {"rows": frame}})
        asked = study.model.demand[-1]
        assert asked.link_ids == ["a", "b"]
        assert asked.wanted == [471_500_000, 472_000_000]
        assert asked.windows == ["show", "rehearsal"]


def test_far_too_many_links_are_refused_at_once(
    study_fields: dict[str, Any], faults_of: Faults
) -> None:
    row = {"count": 10_000, "zone": "hall", "profile": "hand"}
    rows = [{**row, "party": f"A{n}"} for n in range(11)]
    faults = faults_of({**study_fields, "requests": {"rows": rows}})
    assert "more than 100,000 links" in faults["requests, row 11, column 'count'"].what


def test_two_locks_on_one_frequency_are_told_beside_other_faults(
    study_fields: dict[str, Any], faults_of: Faults
) -> None:
    row = {"zone": "hall", "profile": "hand", "wanted": 482.5, "fixed": "yes"}
    rows = [
        {**row, "link": "a", "windows": "show"},
        {**row, "link": "b"},
        {**row, "link": "c", "zone": "yard"},
        {**row, "link": "d", "wanted": 483.5, "windows": "show"},
        {**row, "link": "e", "wanted": 483.5, "windows": "rehearsal"},
        {"link": "f", "zone": "moon", "profile": "hand"},
    ]
    faults = faults_of({**study_fields, "requests": {"rows": rows}})
    assert set(faults) == {
        "requests, row 2, column 'wanted'",
        "requests, row 6, column 'zone'",
    }
    assert "'a' is locked to 482.500 MHz already" in faults["requests, row 2, column 'wanted'"].what


def test_the_readme_shows_a_table_that_is_read(
    study_fields: dict[str, Any], tmp_path: Path
) -> None:
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    blocks = [part.split("```", 1)[0] for part in readme.split("```text\n")[1:]]
    (block,) = (block for block in blocks if "[requests]" in block)
    shown = tomllib.loads(block)
    assert shown["timezone"] == "Europe/Paris"
    shown["requests"]["defaults"]["profile"] = "hand"
    text = "Act,Mic name,Stage,When,Freq,Phone\nThe Examples,lead; harmony,hall,show,482.5,12\n"
    (tmp_path / "acts.csv").write_text(text)
    study = sidon.Study({**study_fields, **shown}, folder=tmp_path)
    assert study.link_ids[-2:] == ["lead", "harmony"]
