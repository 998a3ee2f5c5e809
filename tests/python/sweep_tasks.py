"""Tasks for sweeps: at the top of a module, so that other processes can be sent them by name."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from sidon.plan import Plan
from sidon.sweep import Case, plan_case

SLEEP_S = 0.05


def fails_on_seed_two(case: Case) -> Plan:
    if case.seed == 2:
        message = "seed two, on purpose"
        raise ValueError(message)
    return plan_case(case)


def kills_its_process_once(case: Case) -> tuple[int, int]:
    """Kill the process that runs seed 2, the first time only; otherwise tell who ran the case.

    The mark is a file named by the study's note.
    """
    mark = Path(case.study.model.note)
    if case.seed == 2 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(SLEEP_S)
    return case.seed, os.getpid()
