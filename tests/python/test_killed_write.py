"""A process killed in the middle of writing leaves the file that was there, whole."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import sidon

# Writes plans of growing seed over one file until it is killed, and says when it has begun.
_WRITER = """
import sys
import sidon
from sidon.event import write_sheets
plan_path, out, sheets = sys.argv[1:]
fields = sidon.Plan.from_json(plan_path).to_dict()
for row in fields["assignments"]:
    row["party"] = "Placeholder"
seed = 0
while True:
    seed += 1
    plan = sidon.Plan.from_dict({**fields, "seed": seed})
    plan.to_json(out)
    write_sheets(plan, sheets)
    print(seed, flush=True)
"""


@pytest.mark.parametrize("delay_ms", [0, 3, 7, 12, 20])
def test_kill_leaves_the_old_file_whole(
    delay_ms: int, small_plan: sidon.Plan, tmp_path: Path
) -> None:
    source, out, sheets = tmp_path / "plan.json", tmp_path / "out.json", tmp_path / "sheets"
    small_plan.to_json(source)
    command = [sys.executable, "-c", _WRITER, str(source), str(out), str(sheets)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        for _ in range(3):
            assert writer.stdout.readline().strip().isdecimal()
        time.sleep(delay_ms / 1000)
        writer.kill()  # SIGKILL: nothing can be tidied up
        told = [int(line) for line in writer.stdout.read().split()]
    assert writer.returncode == -signal.SIGKILL
    last = max(told, default=3)
    plan = sidon.Plan.from_json(out)
    # The last that was finished, or the next, which was moved into place before it could say so.
    assert plan.document.seed in {last, last + 1}
    assert plan.check().hard == 0
    assert json.loads(out.read_text())["assignments"]
    for sheet in ("Placeholder.txt", "Placeholder.csv"):
        text = (sheets / sheet).read_text()
        assert text.endswith("\n")
        assert all(row.link in text for row in plan.assignments)
