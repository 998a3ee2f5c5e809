"""Large events: time to a full plan, moves per second, memory and check, by links and threads.

The studies are those of tests/python/large_events.py: a zone for 67 links, three days, six
profiles, 60 % of 470-694 MHz free, steps of 25 and 50 kHz. Every row runs in a process of its own,
so that the memory peak is its own.

    maturin develop --release && python tests/bench/large_events.py [SECONDS] [LINKS ...]
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from itertools import product
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from large_events import large_problem

import sidon

SIZES = (50, 100, 200, 400, 800, 1_600, 3_000)
SECONDS = 60.0
SCARCE_MHZ = 3
"""So little for in-ears that not all can be served: unserved priority beside its bound."""
SCARCE_SECONDS = 10.0
RUN = "--run"


def run(
    links: int, threads: int, seconds: float, seed: int, step_hz: int, in_ear_mhz: int
) -> dict[str, Any]:
    """Solve one study and check its plan again."""
    problem = large_problem(links, seed=seed, step_hz=step_hz, in_ear_mhz=in_ear_mhz)
    begun = time.perf_counter()
    result = sidon.solve(problem, seconds=seconds, threads=threads, seed=seed)
    solved = time.perf_counter()
    report = sidon.check(problem, result, threads=threads)
    checked = time.perf_counter()
    peak_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {
        "links": links,
        "threads": threads,
        "seed": seed,
        "step_khz": step_hz / 1_000,
        "in_ear_mhz": in_ear_mhz,
        "refused": report.refused,
        "unserved": report.unserved,
        "bound": result.bound,
        "status": result.status,
        "solve_s": round(solved - begun, 3),
        "check_s": round(checked - solved, 3),
        "moves_per_s": round(result.evaluations / (solved - begun)),
        "peak_mib": round(peak_kib / 1_024),
    }


def apart(arguments: dict[str, Any]) -> dict[str, Any]:
    """Do the same in a process of its own."""
    command = [sys.executable, __file__, RUN, json.dumps(arguments)]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return dict(json.loads(text))


def main(arguments: list[str]) -> None:
    """Print the figures."""
    if arguments[:1] == [RUN]:
        print(json.dumps(run(**json.loads(arguments[1]))))
        return
    seconds = float(arguments[0]) if arguments else SECONDS
    sizes = [int(text) for text in arguments[1:]] or list(SIZES)
    settings = ((1, 25_000, 48), (2, 25_000, 48), (2, 50_000, 48), (2, 25_000, SCARCE_MHZ))
    print(f"build: {sidon.versions()['build']}; at most {seconds:g} s each")
    header = ""
    for links, (threads, step_hz, in_ear_mhz) in product(sizes, settings):
        scarce = in_ear_mhz == SCARCE_MHZ
        row = apart(
            {
                "links": links,
                "threads": threads,
                "seconds": min(seconds, SCARCE_SECONDS) if scarce else seconds,
                "seed": 1,
                "step_hz": step_hz,
                "in_ear_mhz": in_ear_mhz,
            }
        )
        if not header:
            header = "  ".join(row)
            print(header)
        print("  ".join(str(row[name]).rjust(len(name)) for name in row), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
