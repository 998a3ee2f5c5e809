"""Ctrl-C: answered at once, the plan written first, no traceback at any time."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

import sidon

Fields = dict[str, Any]

pytestmark = pytest.mark.skipif(os.name == "nt", reason="SIGINT cannot be sent there")

COMMAND = "import sys; from sidon.cli import main; sys.exit(main())"


@pytest.fixture
def crowded(study_fields: Fields, tmp_path: Path) -> list[str]:
    """Return the arguments for a study that cannot be served, so that its search goes on."""
    study_fields["demand"][2]["count"] = 40
    path = tmp_path / "study.json"
    path.write_text(json.dumps(study_fields), encoding="utf-8")
    return ["plan", str(path), "--out", str(tmp_path / "plan.json"), "--seconds", "100"]


def test_ctrl_c_keeps_the_best_plan_so_far(crowded: list[str], tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", COMMAND, *crowded],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        assert "served" in process.stderr.readline()
        process.send_signal(signal.SIGINT)
        said, complaint = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "ended: interrupted" in said
    assert "sidon: stopping; writing the best plan so far\n" in complaint
    assert "Traceback" not in complaint
    plan = sidon.Plan.from_json(tmp_path / "plan.json")
    assert plan.stop_reason == "interrupted"
    assert plan.check().hard == 0
    assert len(plan.assignments) >= 10


def test_further_ctrl_c_does_not_cost_the_plan(crowded: list[str], tmp_path: Path) -> None:
    outputs = ["--csv", str(tmp_path / "plan.csv"), "--picture", str(tmp_path / "plan.png")]
    script = tmp_path / "sidon"
    script.write_text(f"import sys; sys.path.pop(0)\n{COMMAND}", encoding="utf-8")
    with subprocess.Popen(
        [sys.executable, str(script), *crowded, *outputs],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        assert "served" in process.stderr.readline()
        # As impatient as can be, until the last line is said.
        for line in process.stderr:
            process.send_signal(signal.SIGINT)
            if "what is written is the best plan so far" in line:
                break
            if "stopping" in line:
                while process.poll() is None and not (tmp_path / "plan.png").exists():
                    process.send_signal(signal.SIGINT)
                    time.sleep(0.02)
        _, complaint = process.communicate(timeout=60)
    assert process.returncode == 130
    assert complaint == ""
    assert sidon.Plan.from_json(tmp_path / "plan.json").check().hard == 0
    assert (tmp_path / "plan.csv").is_file()
    assert (tmp_path / "plan.png").is_file()


def test_ctrl_c_before_there_is_a_plan_says_so(crowded: list[str], tmp_path: Path) -> None:
    code = (
        "import os, signal, sidon\n"
        "def press(*_, **__): os.kill(os.getpid(), signal.SIGINT)\n"
        f"sidon.solve = press\n{COMMAND}"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *crowded],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 130
    assert done.stderr.endswith("stopped before there was a plan; nothing is written\n")
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "plan.json").exists()


def test_the_plan_is_written_before_what_may_fail(crowded: list[str], tmp_path: Path) -> None:
    # The table is made to fail in the middle of writing; the plan is there all the same.
    code = (
        "import sidon.plan.tables as tables\n"
        "def fail(_): raise OSError(28, 'no space left on device', 'plan.csv')\n"
        f"tables.csv_text = fail\n{COMMAND}"
    )
    arguments = ["--csv", str(tmp_path / "plan.csv"), "--iterations", "200", "--quiet"]
    done = subprocess.run(
        [sys.executable, "-c", code, *crowded, *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert "plan.csv: no space left on device" in done.stderr
    assert sidon.Plan.from_json(tmp_path / "plan.json").check().hard == 0


@pytest.mark.parametrize("module", ["numpy", "pydantic", "sidon._engine", "sidon.cli.main"])
def test_ctrl_c_while_the_libraries_load_leaves_no_traceback(tmp_path: Path, module: str) -> None:
    script = tmp_path / "sidon"
    script.write_text(
        "import importlib.abc, os, signal, sys\n"
        "class Press(importlib.abc.MetaPathFinder):\n"
        "    def find_spec(self, name, path, target=None):\n"
        f"        if name == {module!r}:\n"
        "            os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.path.pop(0)\n"
        "sys.meta_path.insert(0, Press())\n"
        "from sidon.cli import main\n"
        "sys.exit(main())\n",
        encoding="utf-8",
    )
    done = subprocess.run(
        [sys.executable, str(script), "--version"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 130
    assert done.stderr == "sidon: stopped; nothing is written\n"


def test_the_library_leaves_ctrl_c_alone() -> None:
    code = (
        "import signal, sidon; from sidon.cli import main\n"
        "assert signal.getsignal(signal.SIGINT) is signal.default_int_handler"
    )
    subprocess.run([sys.executable, "-c", code], timeout=60, check=True)
