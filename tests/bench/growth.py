"""Growth of time and memory with links, raster length and threads: a CSV file and a picture.

Links: large events of 50 to 5,000 links (tests/python/large_events.py), DSATUR and the check.
Raster: 200 links of one zone in 138 MHz on ever finer steps, equal iterations of local search.
Threads: equal iterations of multi-start local search on more links than fit, one thread and two.

    maturin develop --release && python tests/bench/growth.py [FOLDER]

Takes two to five minutes on two cores. Every row runs in a process of its own. Nothing else should
run on the machine meanwhile.
"""

from __future__ import annotations

import csv
import json
import resource
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from large_events import large_problem

import sidon
from sidon import MHz, kHz

LINKS = (50, 100, 200, 400, 800, 1_600, 3_000, 5_000)
STEPS_KHZ = (200, 100, 50, 25, 12.5, 6.25)
WIDTH = 138 * MHz
RUN = "--run"


def one_zone(links: int, step_hz: int) -> sidon.Problem:
    """Return links of one profile on 138 MHz."""
    return sidon.Problem.simple(
        range(470 * MHz, 470 * MHz + WIDTH, step_hz),
        count=links,
        separation=350 * kHz,
        guards={"2A-B": 100 * kHz, "A+B-C": 100 * kHz},
    )


def run(axis: str, links: int, step_hz: int, threads: int) -> dict[str, Any]:
    """Measure one point."""
    if axis == "links":
        problem, method, iterations = large_problem(links, seed=1, step_hz=step_hz), "dsatur", None
    else:
        problem, method = one_zone(links, step_hz), "local-search"
        iterations = 160_000 if axis == "threads" else 2_000
    begun = time.perf_counter()
    table = sidon.State(problem)
    table_s = time.perf_counter() - begun
    del table
    result = sidon.solve(
        problem,
        method=method,  # type: ignore[arg-type]
        iterations=iterations,
        seconds=None if iterations else 600,
        threads=threads,
        seed=1,
    )
    begun = time.perf_counter()
    sidon.check(problem, result, threads=threads)
    check_s = time.perf_counter() - begun
    return {
        "axis": axis,
        "links": links,
        "positions": WIDTH // step_hz if axis != "links" else 224 * MHz // step_hz,
        "threads": threads,
        "method": method,
        "refused": result.refused,
        "solve_s": round(result.elapsed_s, 4),
        "moves_per_s": round(result.evaluations / result.elapsed_s),
        "table_s": round(table_s, 4),
        "check_s": round(check_s, 4),
        "peak_mib": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1_024, 1),
    }


def apart(arguments: dict[str, Any]) -> dict[str, Any]:
    """Do the same in a process of its own."""
    command = [sys.executable, __file__, RUN, json.dumps(arguments)]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return dict(json.loads(text))


def points() -> list[dict[str, Any]]:
    """List what is measured."""
    made: list[dict[str, Any]] = []
    for links in LINKS:
        made.append({"axis": "links", "links": links, "step_hz": 25 * kHz, "threads": 2})
    for step in STEPS_KHZ:
        made.append({"axis": "raster", "links": 200, "step_hz": int(step * kHz), "threads": 1})
    for _ in range(3):
        for threads in (1, 2):
            made.append({"axis": "threads", "links": 60, "step_hz": 25 * kHz, "threads": threads})
    return made


def draw(rows: list[dict[str, Any]], path: Path) -> None:
    """Draw the figures on logarithmic axes."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11, 7.5), layout="constrained")
    (by_links, by_memory), (by_raster, by_threads) = figure.subplots(2, 2)
    links = [row for row in rows if row["axis"] == "links"]
    n = [row["links"] for row in links]
    for name, text in (
        ("solve_s", "DSATUR, with its check"),
        ("check_s", "check"),
        ("table_s", "empty table"),
    ):
        by_links.loglog(n, [row[name] for row in links], "o-", label=text)
    by_links.set(title="Time against links", xlabel="links", ylabel="seconds")
    by_links.legend()
    by_memory.loglog(n, [row["peak_mib"] for row in links], "o-")
    by_memory.set(title="Memory against links", xlabel="links", ylabel="peak of the process in MiB")
    raster = [row for row in rows if row["axis"] == "raster"]
    steps = [row["positions"] for row in raster]
    by_raster.loglog(steps, [row["moves_per_s"] for row in raster], "o-")
    by_raster.set(
        title="Moves against raster length, 200 links in one zone",
        xlabel="positions",
        ylabel="moves per second, one thread",
    )
    best = {
        threads: min(
            row["solve_s"] for row in rows if row["axis"] == "threads" and row["threads"] == threads
        )
        for threads in (1, 2)
    }
    by_threads.bar([f"{threads} thread(s)" for threads in best], list(best.values()), width=0.5)
    speed_up = best[1] / best[2]
    by_threads.set(
        title=f"Multi-start, equal iterations: {speed_up:.2f} times as fast", ylabel="seconds"
    )
    for axes in (by_links, by_memory, by_raster):
        axes.grid(visible=True, which="both", alpha=0.3)
    figure.savefig(path, dpi=120)


def main(arguments: list[str]) -> None:
    """Measure, write and draw."""
    if arguments[:1] == [RUN]:
        print(json.dumps(run(**json.loads(arguments[1]))))
        return
    folder = Path(arguments[0] if arguments else ".")
    folder.mkdir(parents=True, exist_ok=True)
    rows = []
    for point in points():
        rows.append(apart(point))
        print(rows[-1], flush=True)
    with (folder / "growth.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    draw(rows, folder / "growth.png")
    print(f"written: {folder / 'growth.csv'}, {folder / 'growth.png'}")


if __name__ == "__main__":
    main(sys.argv[1:])
