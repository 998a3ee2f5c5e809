"""Scans named in a study: excluded, preferred, carried along, and every fault with its place."""

from __future__ import annotations

import inspect
import json
import pickle
import re
from pathlib import Path
from typing import Any

import pytest

import sidon
from sidon import MHz, Scan
from sidon.cli import main
from sidon.demo import study_text
from sidon.spectrum.scan import demo_text
from sidon.study.availability import free_ranges, tuning


def carrier_text(*, carriers: tuple[float, ...] = (471.0, 473.5), high: float = 500.0) -> str:
    """Write a quiet scan of 470 MHz and up, with carriers 40 dB above the floor; invented."""
    lines = ["# invented", "# RBW 30 kHz", "MHz,dBm"]
    for i in range(round((high - 470) * 40) + 1):
        near = any(abs(470 + i / 40 - mhz) < 0.06 for mhz in carriers)
        lines.append(f"{470 + i / 40:.3f},{-70 if near else -110 + i % 3}")
    return "\n".join(lines) + "\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "foh.csv").write_text(carrier_text(), encoding="utf-8")
    return tmp_path


def with_scans(fields: dict[str, Any], *scans: Any) -> dict[str, Any]:
    fields["availability"]["scans"] = list(scans)
    return fields


def test_what_a_scan_found_is_excluded(folder: Path, study_fields: dict[str, Any]) -> None:
    scan = {"file": "foh.csv", "taken": "2031-05-01", "use": "exclude", "widen": 0}
    del study_fields["locks"]
    study = sidon.Study.from_dict(with_scans(study_fields, scan, {**scan, "widen": "100 kHz"}))
    plan = study.plan(seed=1, iterations=20_000)
    assert plan.refused == []
    spectrum = plan.document.spectrum
    assert spectrum is not None
    rows = [(row.low_hz, row.high_hz, row.reason) for row in spectrum.exclusions]
    reason = "scan foh 2031-05-01: -70.0 dBm at 470.950 MHz"
    assert (470_937_500, 471_062_500, reason) in rows
    assert (470_837_500, 471_162_500, reason) in rows
    assert len(rows) == 4
    for row in plan.assignments:
        # Carrier plus or minus half the bandwidth of 200 kHz stays clear.
        assert all(
            row.frequency_hz + 100_000 <= low or row.frequency_hz - 100_000 >= high
            for low, high, _ in rows
        )


def test_the_plan_stands_alone(folder: Path, study_fields: dict[str, Any]) -> None:
    del study_fields["locks"]
    study = sidon.Study.from_dict(with_scans(study_fields, "foh.csv"))
    (folder / "foh.csv").unlink()
    plan = study.plan(seed=1, iterations=20_000)
    plan.to_json("plan.json")
    assert sidon.Plan.from_json("plan.json").check().hard == 0
    # So does the study: what was read travels with it.
    again = sidon.Study.from_dict(json.loads(json.dumps(study.to_dict())))
    assert again == study
    assert again.problem() == study.problem()
    assert pickle.loads(pickle.dumps(study)) == study
    said = " ".join(plan.document.caution)
    assert "A scan hears one spot" in said


def test_quiet_air_is_preferred(folder: Path, study_fields: dict[str, Any]) -> None:
    del study_fields["locks"], study_fields["incumbents"]
    loud = tuple(470 + i / 2 for i in range(11))
    (folder / "foh.csv").write_text(carrier_text(carriers=loud), encoding="utf-8")
    plain = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=20_000)
    study = sidon.Study.from_dict(with_scans(study_fields, {"file": "foh.csv", "use": ["prefer"]}))
    plan = study.plan(seed=1, iterations=20_000)
    assert len(plan.assignments) == len(plain.assignments) == study.asked
    scan = Scan.from_file("foh.csv")

    def noise(found: sidon.Plan) -> int:
        return int(scan.costs([row.frequency_hz for row in found.assignments]).sum())

    assert noise(plan) < noise(plain)
    assert noise(plan) == 0
    assert plan.document.spectrum is not None
    assert plan.document.spectrum.exclusions == []


def test_costs_in_a_study_are_those_of_the_scan(folder: Path, study_fields: dict[str, Any]) -> None:
    del study_fields["locks"]
    study = sidon.Study.from_dict(with_scans(study_fields, {"file": "foh.csv", "use": "prefer"}))
    problem = study.problem().to_dict()
    row = problem["links"][0]
    model = study.model
    candidates = tuning(model.profiles[0], free_ranges(model.availability)).candidates_hz()
    expected = Scan.from_file("foh.csv").costs(candidates)
    # The study keeps whole decibels per 25 kHz.
    differences = [a - b for a, b in zip(problem["costs"][row["costs"]], expected, strict=True)]
    assert max(map(abs, differences)) <= 1


def test_preferred_ranges_come_before_quiet_air(folder: Path, study_fields: dict[str, Any]) -> None:
    del study_fields["locks"]
    study_fields["demand"][0]["preferred"] = [[470, 476]]
    study = sidon.Study.from_dict(with_scans(study_fields, {"file": "foh.csv", "use": "prefer"}))
    plan = study.plan(seed=1, iterations=20_000)
    vox = [row.frequency_hz for row in plan.assignments if row.link.startswith("vox")]
    assert all(470 * MHz < hz < 476 * MHz for hz in vox)


def test_what_no_scan_heard_is_dear_and_said(folder: Path, study_fields: dict[str, Any]) -> None:
    del study_fields["locks"]
    (folder / "foh.csv").write_text(carrier_text(high=490), encoding="utf-8")
    study = sidon.Study.from_dict(
        with_scans(study_fields, {"file": "foh.csv", "taken": "2031-05-01"})
    )
    problem = study.problem().to_dict()
    table = problem["costs"][problem["links"][0]["costs"]]
    # The highest candidates lie above 494 MHz, which was not heard; the cap is 40 dB.
    assert table[-1] == 40
    assert min(table) == 0
    plan = study.plan(seed=1, iterations=5_000)
    said = [text for text in plan.document.caution if "not known to be quiet" in text]
    assert said == [
        "Scans beside the available ranges: the scan covers 66.7 %; not covered, so not known to "
        "be quiet: 490.0125-500.000 MHz."
    ]
    # A second scan hears the rest.
    (folder / "rest.csv").write_text(carrier_text(carriers=()), encoding="utf-8")
    both = sidon.Study.from_dict(with_scans(study_fields, "foh.csv", "rest.csv"))
    text = " ".join(both.plan(seed=1, iterations=5_000).document.caution)
    assert "not known to be quiet" not in text


def test_warnings_of_a_scan_reach_the_plan(folder: Path, study_fields: dict[str, Any]) -> None:
    del study_fields["locks"]
    text = carrier_text().replace("\n480.000,-109", "").replace("# RBW 30 kHz\n", "")
    (folder / "foh.csv").write_text(text, encoding="utf-8")
    study = sidon.Study.from_dict(
        with_scans(study_fields, {"file": "foh.csv", "taken": "2031-05-01"})
    )
    said = study.plan(seed=1, iterations=5_000).document.caution
    assert any(line.startswith("Scan foh of 2031-05-01: the resolution") for line in said)


def test_options_are_passed_on(folder: Path, study_fields: dict[str, Any]) -> None:
    rows = "Point;F;A;B\n" + "\n".join(
        f"{i};{470_000 + 25 * i};0;{12 + (60 if i == 400 else i % 2)}" for i in range(1200)
    )
    (folder / "odd.csv").write_text(rows, encoding="utf-8")
    scan = {
        "file": "odd.csv",
        "frequency": "F",
        "level": "B",
        "frequency_unit": "kHz",
        "level_unit": "dBuV",
        "resolution_bandwidth": "30 kHz",
        "averages": 5,
        "threshold_dbm": -60,
        "bridge": "1 MHz",
        "widen": 0,
        "antenna": "whip, invented",
    }
    study = sidon.Study.from_dict(with_scans(study_fields, scan))
    [row] = study.model.availability.scans[0].heard.exclusions
    assert (row.low_hz, row.high_hz) == (479_987_500, 480_012_500)
    # 72 dBuV - 106.99 dB.
    assert row.reason == "scan odd: -35.0 dBm at 480.000 MHz"


def test_faults_of_files_and_options_come_together(
    folder: Path, study_fields: dict[str, Any]
) -> None:
    (folder / "two.csv").write_text("Start MHz,Stop MHz,dBm\n470,471,-100\n471,472,-101\n")
    (folder / "dbuv.csv").write_text(
        "MHz,x\n" + "".join(f"{470 + i},{9 + i % 2}\n" for i in range(9))
    )
    (folder / "empty.csv").write_text("")
    scans = [
        {"taken": "2031-05-01"},
        {"file": "two.csv"},
        {"file": "dbuv.csv"},
        {"file": "empty.csv"},
        {"file": "none.csv"},
        {"file": "foh.csv", "use": "ignore", "taken": "yesterday", "rbw": 1},
        {"file": "foh.csv", "frequency_unit": "lightyear"},
    ]
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study.from_dict(with_scans(study_fields, *scans))
    faults = {fault.place: str(fault) for fault in caught.value.faults}
    assert "two columns of two.csv look like frequency" in faults["two.csv, frequency"]
    assert "dBuV" in faults["level (dbuv.csv)"]
    assert "it is empty" in faults["empty.csv"]
    assert "there is no file none.csv" in faults["availability.scans[4]"]
    place = "availability.scans (foh.csv), "
    assert "'ignore' is not allowed" in faults[f"{place}use[0]"]
    assert f"{place}taken" in faults
    assert f"{place}rbw" in faults
    assert "the scan names no file" in faults["availability.scans[0]"]
    assert "use Hz, kHz, MHz or GHz" in faults["foh.csv, frequency_unit"]


def test_options_and_columns_are_judged_beside_each_other(
    folder: Path, study_fields: dict[str, Any]
) -> None:
    scans = [
        {"file": "none.csv", "resolution_bandwith": 1, "use": ["exclude", "prefr"]},
        {"file": "foh.csv", "threshold_dbm": "loud", "frequency": "foo", "level": 9, "taken": "x"},
        {
            "file": "foh.csv",
            "above_db": True,
            "level_unit": "dBfoo",
            "delimiter": ".",
            "decimal": ".",
        },
    ]
    with pytest.raises(sidon.StudyError) as caught:
        sidon.Study.from_dict(with_scans(study_fields, *scans))
    said = [str(fault) for fault in caught.value.faults]
    place = "availability.scans (foh.csv), "
    for words in (
        "there is no file none.csv",
        "availability.scans (none.csv), use[1]: 'prefr' is not allowed",
        "did you mean 'resolution_bandwidth'?",
        f"{place}threshold_dbm: 'loud' is not a number; write a number of dBm, such as -90",
        f"{place}taken: 'x' is not a date",
        "foh.csv, frequency: there is no column 'foo' in foh.csv",
        "foh.csv, level: there is no column 9 in foh.csv",
        f"{place}above_db: True is not a number; write a number of decibels, such as 5",
        "foh.csv, level_unit: 'dBfoo' is no unit of level",
        "foh.csv, delimiter: '.' cannot part cells and mark decimals",
    ):
        assert any(words in text for text in said), words
    assert len(said) == 10


def test_only_what_can_be_tuned_is_asked_of_a_scan(
    folder: Path, study_fields: dict[str, Any]
) -> None:
    del study_fields["locks"], study_fields["incumbents"]
    study_fields["availability"]["ranges"].append([902, 928])
    plan = sidon.Study.from_dict(with_scans(study_fields, "foh.csv")).plan(seed=1, iterations=100)
    assert not any("902" in text for text in plan.document.caution)


def test_a_threshold_in_the_noise_is_a_fault(folder: Path, study_fields: dict[str, Any]) -> None:
    rows = "".join(f"{470 + i / 80:.4f},{-110 + 20 * (i % 2)}\n" for i in range(5_000))
    (folder / "foh.csv").write_text("MHz,dBm\n" + rows, encoding="utf-8")
    scan = {"file": "foh.csv", "threshold_dbm": -100, "bridge": 0}
    with pytest.raises(sidon.StudyError, match=r"foh\.csv: 2,500 parts stand above the threshold"):
        sidon.Study.from_dict(with_scans(study_fields, scan))


def test_the_example_of_the_readme_is_sound(folder: Path) -> None:
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    start = readme.index("    [[availability.scans]]")
    example = inspect.cleandoc(readme[start : readme.index("Further keys:", start)])
    study = sidon.Study.from_toml_text(study_text() + "\n" + example)
    [scan] = study.model.availability.scans
    assert (scan.use, scan.resolution_bandwidth) == (["exclude", "prefer"], 10_000)
    keys = readme[readme.index("Further keys:", start) : readme.index("In Python: `sidon.Scan`")]
    for key in re.findall(r"`([a-z_]+)`", keys):
        assert key in type(scan).model_fields, key


def test_a_lock_in_an_exclusion_is_a_fault_with_the_reason(
    folder: Path, study_fields: dict[str, Any]
) -> None:
    (folder / "foh.csv").write_text(carrier_text(carriers=(470.5,)), encoding="utf-8")
    with pytest.raises(sidon.StudyError, match=r"exclusion 'scan foh: -70\.0 dBm at 470\.450 MHz'"):
        sidon.Study.from_dict(with_scans(study_fields, "foh.csv"))


def test_from_file_to_plan_on_the_command_line(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "foh.csv").write_text(demo_text(seed=1, sweeps=5), encoding="utf-8")
    text = study_text() + (
        '\n[[availability.scans]]\nfile = "foh.csv"\nresolution_bandwidth = "30 kHz"\n'
        'spot = "invented desk"\ntaken = 2031-05-01\nuse = ["exclude", "prefer"]\nabove_db = 6.5\n'
    )
    (folder / "study.toml").write_text(text, encoding="utf-8")
    assert main(["plan", "study.toml", "--out", "plan.json", "--iterations", "20000"]) == 0
    assert main(["check", "plan.json"]) == 0
    plan = sidon.Plan.from_json("plan.json")
    assert plan.document.spectrum is not None
    reasons = [row.reason for row in plan.document.spectrum.exclusions]
    assert any(reason.startswith("scan foh 2031-05-01: -68.0 dBm") for reason in reasons)
    capsys.readouterr()
