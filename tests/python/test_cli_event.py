"""The commands for a plan on the air: what they say, write, and refuse."""

from __future__ import annotations

from pathlib import Path

import pytest

import sidon
from sidon.cli import main


@pytest.fixture
def plan_file(small_plan: sidon.Plan, tmp_path: Path) -> Path:
    path = tmp_path / "plan.json"
    small_plan.to_json(path)
    return path


def test_repairs_writes_and_tells_whom_to_call(
    plan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new.json"
    command = ["repair", str(plan_file), "--hit", "ears-2", "--out", str(out)]
    assert main([*command, "--at", "2031-05-01T21:00", "--compare"]) == 0
    said = capsys.readouterr().out
    assert "to retune, " in said
    assert "A plan made anew would retune" in said
    assert "show, hall:\n  ears-2: retune to " in said
    assert "ON THE AIR" in said
    assert "Confirm a frequency with a scan" in said
    assert main(["check", str(out)]) == 0
    capsys.readouterr()
    assert main(["diff", str(plan_file), str(out)]) == 0
    said = capsys.readouterr().out
    assert "Retuned (on another frequency):\n  ears-2, hall, ears: " in said
    assert "foreign carrier 'interference on ears-2'" in said
    assert main(["diff", str(out), str(out)]) == 0
    assert capsys.readouterr().out.endswith("none\n")


def test_takes_every_kind_of_change(
    plan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new.json"
    command = ["repair", str(plan_file), "--out", str(out), "--seconds", "1"]
    command += ["--block", "471.2 - 471.4", "--channel", "17", "--hit-alone", "vox-2"]
    command += ["--add", "ears:hall:1:show", "--add", "hand:yard:1", "--drop", "vox-3"]
    command += ["--swap", "guest:ears", "--foreign", "crew:499.5:yard:hand"]
    command += ["--rules", "ears:separation=425 kHz:2A-B=0.1"]
    assert main(command) == 0
    plan = sidon.Plan.from_json(out)
    rows = {row.link: row for row in plan.assignments}
    assert rows["guest"].profile == "ears"
    assert {"ears-4", "hand-1"} <= set(rows)
    assert rows["ears-4"].windows == ("show",)
    assert "vox-3" not in rows
    assert [c.frequency_hz for c in plan.document.incumbents] == [484_250_000, 499_500_000]
    ears = next(profile for profile in plan.document.profiles if profile.name == "ears")
    assert (ears.separation_hz, ears.guards_hz["2A-B"]) == (425_000, 100_000)
    assert "vox-3: stop" in capsys.readouterr().out


def test_what_if_tells_and_writes_nothing(
    plan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(tmp_path.iterdir())
    assert main(["repair", str(plan_file), "--what-if", "--rules", "ears:separation=0.8"]) == 1
    assert "would break; at least" in capsys.readouterr().out
    assert main(["repair", str(plan_file), "--what-if", "--drop", "vox-2"]) == 0
    assert capsys.readouterr().out == "Nothing would break.\n"
    assert sorted(tmp_path.iterdir()) == before


def test_a_required_link_without_a_carrier_is_exit_code_1(
    plan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = ["repair", str(plan_file), "--out", str(tmp_path / "new.json"), "--seconds", "0.5"]
    assert main([*command, "--add", "ears:hall:30"]) == 1
    assert "Without a carrier:" in capsys.readouterr().out


def test_alternatives_and_spares(plan_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["alternatives", str(plan_file), "vox-2", "-k", "3"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert len(said) == 5
    assert "spare vox-spare-1, promised" in said[1]
    assert said[4].startswith("Confirm a frequency with a scan")
    assert main(["alternatives", str(plan_file), "ears-2"]) == 0
    assert "straight into the ear" in capsys.readouterr().out
    scan = plan_file.with_name("scan.csv")
    lines = [f"{470 + n / 40:.3f},{-60 if 482 < 470 + n / 40 < 488 else -100}" for n in range(1201)]
    scan.write_text("MHz,dBm\n" + "\n".join(lines), encoding="utf-8")
    assert main(["alternatives", str(plan_file), "vox-2", "--scan", str(scan)]) == 0
    assert "scan at most -100 dBm" in capsys.readouterr().out
    scan.write_text("nothing", encoding="utf-8")
    assert main(["alternatives", str(plan_file), "vox-2", "--scan", str(scan)]) == 2
    scan.unlink()
    assert main(["alternatives", str(plan_file), "vox-2", "--scan", str(scan)]) == 2
    assert "there is no such file" in capsys.readouterr().err
    assert main(["spares", str(plan_file)]) == 0
    assert capsys.readouterr().out.startswith("The promise holds")
    # A plan so full that nothing is clear: every candidate but the present one is too close.
    fields = sidon.Plan.from_json(plan_file).to_dict()
    at = next(row["frequency_hz"] for row in fields["assignments"] if row["link"] == "talk-spare-1")
    fields["availability"]["hand"] = [[at, at]]
    sidon.Plan.from_dict(fields).to_json(plan_file)
    assert main(["alternatives", str(plan_file), "talk-spare-1"]) == 1
    assert "0 of 1 frequencies are clear" in capsys.readouterr().out


def test_faults_come_in_one_report(plan_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = ["repair", str(plan_file), "--out", str(plan_file), "--seconds", "soon"]
    command += ["--block", "526-518", "--hit", "vox2", "--at", "tonight"]
    assert main(command) == 2
    told = capsys.readouterr().err
    assert "5 faults in the input" in told
    for text in (
        "--seconds: 'soon' is not a number",
        "--out: ",
        "--block 526-518: the lower edge 526.000 MHz is not below",
        "--hit vox2: no link with a carrier is named 'vox2'; did you mean 'vox-2'?",
        "--on-air or --at: 'tonight' is not a date and time",
    ):
        assert text in told
    unreadable = ["--block", "518", "--channel", "x", "--add", "a:b", "--swap", "c"]
    unreadable += ["--foreign", "d:e", "--rules", "f", "--add", "a:b:c"]
    assert main(["repair", str(plan_file), *unreadable]) == 2
    told = capsys.readouterr().err
    assert told.count("it cannot be read; write ") == 7
    assert "--out: it is missing" in told
    assert main(["repair", str(plan_file), "--what-if"]) == 2
    assert "nothing has changed" in capsys.readouterr().err
    assert main(["repair", str(plan_file), "--what-if", "--block", "470-471"]) == 1
    assert "until unlocked or dropped: vox-1" in capsys.readouterr().out
    assert main(["repair", str(plan_file), "--block", "470-471", "--out", "x.json"]) == 2
    assert capsys.readouterr().err == (
        "sidon: locked link 'vox-1': it may no longer stand on 470.500 MHz, and may not move; "
        "add --unlock vox-1 to let it move, or --drop vox-1\n"
    )
    assert main(["alternatives", str(plan_file), "vox", "-k", "many"]) == 2
    assert "-k: 'many' is not a whole number" in capsys.readouterr().err
    assert main(["alternatives", str(plan_file), "vox", "-k", "0"]) == 2
    assert "2 faults" in capsys.readouterr().err


def test_plans_that_cannot_be_read_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = tmp_path / "broken.json"
    broken.write_text("{", encoding="utf-8")
    for command in (
        ["diff", str(broken), str(tmp_path / "none.json")],
        ["alternatives", str(broken), "x"],
        ["spares", str(broken)],
        ["repair", str(broken), "--hit", "x", "--what-if"],
    ):
        assert main(command) == 2
        assert "it is not JSON" in capsys.readouterr().err
    assert main(["diff", str(broken), str(tmp_path / "none.json")]) == 2
    assert "there is no such file" in capsys.readouterr().err


def test_an_unreadable_change_hides_no_other_fault(
    plan_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = ["repair", str(plan_file), "--hit", "nobody", "--block", "500", "--channel", "99"]
    command += ["--add", "hand:main:2", "--swap", "vox-1", "--drop", "nix", "--at", "tomorrow"]
    assert main([*command, "--block", "486-480", "--add", "hand:hall:1:show:priority=x"]) == 2
    told = capsys.readouterr().err
    for text in (
        "10 faults in the input",
        "--hit nobody: ",
        "--block 500: it cannot be read; write LOW-HIGH",
        "--channel 99: channel 99 would be ",
        "or the edges: --block LOW-HIGH",
        "--add hand:main:2: no zone is named 'main'",
        "--swap vox-1: it cannot be read",
        "--drop nix: ",
        "--on-air or --at: 'tomorrow' is not a date and time",
        "--out: it is missing",
        "--block 486-480: the lower edge 486.000 MHz is not below the upper 480.000 MHz; "
        "write the lower edge first: 480.000 to 486.000 MHz",
        "--add hand:hall:1:show:priority=x: it cannot be read",
        "further faults may show",
    ):
        assert text in told


def test_arrivals_may_have_a_name_a_priority_and_a_party(plan_file: Path, tmp_path: Path) -> None:
    out, calls = tmp_path / "new.json", tmp_path / "calls.csv"
    command = ["repair", str(plan_file), "--out", str(out), "--csv", str(calls)]
    command += ["--add", "hand:yard:2:priority=7:name=press:party=Press"]
    assert main(command) == 0
    rows = {row.link: row for row in sidon.Plan.from_json(out).document.assignments}
    assert (rows["press-1"].priority, rows["press-2"].party) == (7, "Press")
    lines = calls.read_text(encoding="utf-8").splitlines()
    assert len(lines) == 3
    assert lines[1].startswith(",yard,Press,press-1,no,start,,")


def test_a_locked_link_may_be_unlocked(
    plan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new.json"
    command = ["repair", str(plan_file), "--block", "470-470.6", "--out", str(out)]
    assert main([*command, "--unlock", "vox-1"]) == 0
    assert "vox-1: retune to " in capsys.readouterr().out
    assert main(["alternatives", str(plan_file), "vox-1"]) == 0
    assert "vox-1 is locked: no repair moves it before it is unlocked" in capsys.readouterr().out
    assert main(["alternatives", str(out), "vox-1"]) == 0
    assert "is locked" not in capsys.readouterr().out
    assert main(["diff", str(plan_file), str(out)]) == 0
    assert capsys.readouterr().out.startswith(f"Changes from {str(plan_file)!r} to {str(out)!r}")


def test_links_missing_before_are_told_with_the_exit_code(
    plan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    full, again = tmp_path / "full.json", tmp_path / "again.json"
    command = ["repair", "--seconds", "0.5"]
    assert main([*command, str(plan_file), "--out", str(full), "--add", "ears:hall:30"]) == 1
    said = capsys.readouterr().out
    assert "required links have no carrier (exit code 1)" in said
    assert "--retry-refused" not in said
    assert main([*command, str(full), "--out", str(again), "--hit", "vox-2"]) == 1
    said = capsys.readouterr().out
    assert "Refused before, and still:" in said
    assert "required links have no carrier (exit code 1)" in said
    assert "With --retry-refused others are retuned" in said
    assert main([*command, str(full), "--out", str(again), "--retry-refused"]) == 1


@pytest.mark.parametrize(
    ("command", "told"),
    [
        ("diff", "whether they differ or not"),
        ("repair", "with --what-if: nothing would break"),
        ("alternatives", "there is a clear frequency"),
        ("spares", "a move to a spare would break a rule"),
        ("scan", "the scans were read"),
    ],
)
def test_help_tells_the_exit_codes_of_the_command(
    command: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    said = capsys.readouterr().out
    assert told in said
    assert "a required link is refused, or the check found a violation" not in said
