"""The command `sidon sweep`: many plans over variations and seeds, and a table of them."""

from __future__ import annotations

import argparse
import contextlib
import multiprocessing
import os
import signal
import sys
import tomllib
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from pathlib import Path
from types import FrameType
from typing import Any

from sidon.cli.arguments import Report, file_fault, output_faults, read_search, read_study
from sidon.cli.inputs import inputs_of
from sidon.cli.say import complain, say
from sidon.exceptions import Fault, StudyError
from sidon.sweep import Case, Outcome, Variations, best, cases, columns, sweep

__all__ = ["add_arguments", "run"]

_MOST_SEEDS = 10_000
_CLUSTER_S = 5


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes, but for the options of the search.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument(
        "studies", type=Path, nargs="+", metavar="STUDY", help="study files, .toml or .json"
    )
    parser.add_argument("--csv", type=Path, required=True, metavar="FILE", help="table to write")
    parser.add_argument(
        "--seeds",
        metavar="A-B",
        help="seeds, such as 0-9 or 1,4,7, in place of --seed; every case is planned with each",
    )
    parser.add_argument(
        "--vary",
        type=Path,
        metavar="FILE",
        help="TOML: a table for each axis, in it a table of changes for each setting; every "
        "combination is planned",
    )
    parser.add_argument(
        "--plans", type=Path, metavar="DIR", help="also write every plan into this directory"
    )
    parser.add_argument(
        "--workers", metavar="N", help="processes side by side (default: one per core)"
    )
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="run on the dask.distributed cluster with this scheduler, such as tcp://host:8786",
    )


def run(arguments: argparse.Namespace) -> int:
    """Plan every case and write the table.

    Parameters
    ----------
    arguments : argparse.Namespace
        As declared.

    Returns
    -------
    int
        0 when every combination has a plan that serves all required links, with some seed.
    """
    report = Report([])
    workers = _workers(arguments.workers, report)
    todo = _read(arguments, report)
    report.raise_if_any()
    if arguments.plans is not None:
        arguments.plans.mkdir(parents=True, exist_ok=True)
    files = {id(case): _plan_file(number, case) for number, case in enumerate(todo, start=1)}
    outcomes: list[Outcome] = []
    stopping = False
    with _asked_to_stop() as asked, _executor(arguments.cluster, workers) as executor:

        def progress(done: int, total: int, outcome: Outcome) -> bool:
            if not arguments.quiet:
                sys.stderr.write(f"{done} of {total}: {_line(outcome)}\n")
                sys.stderr.flush()
            return bool(asked)

        try:
            # A pool cannot give back what it took in: the fewer the sooner Ctrl-C has an end.
            ahead = None if arguments.cluster is not None else workers
            for outcome in sweep(todo, executor=executor, progress=progress, ahead=ahead):
                outcomes.append(outcome)
                if arguments.plans is not None and outcome.plan is not None:
                    outcome.plan.to_json(arguments.plans / files[id(outcome.case)])
        except KeyboardInterrupt:
            for process in multiprocessing.active_children():
                process.kill()
            raise
        finally:
            # Whatever ends the sweep, what is there is written.
            _in_order(todo, outcomes)
            columns(outcomes).to_csv(arguments.csv)
        stopping = bool(asked)
    _conclude(outcomes, arguments)
    if stopping:
        complain(f"stopped by Ctrl-C; {len(outcomes)} of {len(todo)} cases are written")
        return 130
    done = best(outcomes).values()
    return 0 if all(row.plan is not None and row.plan.complete for row in done) else 1


def _read(arguments: argparse.Namespace, report: Report) -> list[Case]:
    search = read_search(arguments, report)
    if search["iterations"] is None and search["seconds"] is None:
        search["seconds"] = 5.0
    seeds = _seeds(arguments.seeds, report) if arguments.seeds is not None else [search["seed"]]
    vary = _variations(arguments.vary, report) if arguments.vary is not None else None
    inputs: dict[str, Path] = {}
    for path in arguments.studies:
        inputs |= inputs_of(path, f"the study {path}")
    if arguments.vary is not None:
        inputs["--vary"] = arguments.vary
    report.faults += output_faults(inputs, {"--csv": arguments.csv})
    if arguments.plans is not None and arguments.plans.exists() and not arguments.plans.is_dir():
        what = f"{arguments.plans} is no directory"
        report.faults.append(Fault("--plans", what, "name a directory, or a new one"))
    studies = {}
    for path in arguments.studies:
        study = read_study(path, report)
        if study is not None:
            if path.stem in studies:
                what = f"two studies are called {path.stem!r}"
                report.faults.append(Fault(str(path), what, "give every file a name of its own"))
            studies[path.stem] = study
    report.raise_if_any()
    try:
        return cases(
            studies if len(studies) > 1 else next(iter(studies.values())),
            vary=vary,
            seeds=seeds,
            iterations=search["iterations"],
            seconds=search["seconds"],
            threads=search["threads"] or 1,
        )
    except StudyError as error:
        report.faults += error.faults
    return []


def _seeds(text: str, report: Report) -> list[int]:
    seeds: list[int] = []
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        if not first.isdecimal() or (dash and not last.isdecimal()):
            what = f"{part!r} is neither a seed nor a range of seeds"
            report.faults.append(Fault("--seeds", what, "write such as 0-9 or 1,4,7"))
            return []
        low, high = int(first), int(last or first)
        if high < low or high - low >= _MOST_SEEDS or high >= 2**64:
            what = f"{part!r} holds no seeds, or more than {_MOST_SEEDS:,}"
            report.faults.append(Fault("--seeds", what, "write such as 0-9 or 1,4,7"))
            return []
        seeds += range(low, high + 1)
    return list(dict.fromkeys(seeds))


def _variations(path: Path, report: Report) -> Variations:
    remedy = 'write such as ["what if"."channel 29 on air"] and under it changes by path'
    try:
        axes: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        report.faults.append(file_fault(path, error))
        return {}
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        report.faults.append(Fault(str(path), f"it is not TOML: {error}", remedy))
        return {}
    for axis, settings in axes.items():
        tables = settings.values() if isinstance(settings, dict) else [None]
        if not all(isinstance(changes, dict) for changes in tables):
            what = "an axis holds settings, and each of these a table of changes"
            report.faults.append(Fault(f"{path}: {axis}", what, remedy))
    return axes


def _workers(text: str | None, report: Report) -> int:
    if text is None:
        return os.cpu_count() or 1
    if text.isdecimal() and 1 <= int(text) <= 1024:
        return int(text)
    what = f"{text!r} is no number of processes"
    report.faults.append(Fault("--workers", what, "write a whole number from 1 to 1024"))
    return 1


@contextlib.contextmanager
def _executor(cluster: str | None, workers: int) -> Iterator[Executor]:
    if cluster is None:
        # The engine has threads of its own, so processes start afresh.
        fresh = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(workers, mp_context=fresh, initializer=_leave_to_parent) as pool:
            yield pool
        return
    try:
        from distributed import Client
    except ImportError:
        what = "--cluster needs the package distributed: pip install distributed"
        raise ImportError(what) from None
    try:
        client = Client(cluster, timeout=_CLUSTER_S)
    except (OSError, ValueError) as error:
        what = f"no scheduler answers at {cluster!r}"
        remedy = "start one with `dask scheduler`, and give the address that it prints"
        raise StudyError([Fault("--cluster", what, remedy)]) from error
    with client:
        yield client.get_executor()


def _leave_to_parent() -> None:
    """Leave Ctrl-C, which reaches every process of a terminal, to the one that began the sweep."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextlib.contextmanager
def _asked_to_stop() -> Iterator[list[bool]]:
    asked: list[bool] = []

    def take(_number: int, _frame: FrameType | None) -> None:
        if asked:
            raise KeyboardInterrupt
        asked.append(True)
        complain("stopping once the cases at work are done; Ctrl-C again stops at once")

    before = signal.signal(signal.SIGINT, take)
    try:
        yield asked
    finally:
        signal.signal(signal.SIGINT, before)


def _in_order(todo: list[Case], outcomes: list[Outcome]) -> None:
    place = {id(case): index for index, case in enumerate(todo)}
    outcomes.sort(key=lambda outcome: place[id(outcome.case)])


def _plan_file(number: int, case: Case) -> str:
    # The number keeps apart what differs only in characters that a file name cannot hold.
    words = "".join(c if c.isascii() and c.isalnum() else " " for c in case.name).split()
    return f"{number:04}-{'-'.join(words)[:120]}.json"


def _line(outcome: Outcome) -> str:
    if outcome.plan is None:
        return f"{outcome.case.name}: {outcome.error}"
    document = outcome.plan.document
    spares = sum(row.spare for row in document.assignments)
    return (
        f"{outcome.case.name}: {len(document.assignments) - spares} of "
        f"{len(document.asked.required)} required links, {spares} of "
        f"{len(document.asked.spares)} spares ({outcome.elapsed_s:.1f} s)"
    )


def _conclude(outcomes: list[Outcome], arguments: argparse.Namespace) -> None:
    say("The best of each combination over its seeds:")
    for row in best(outcomes).values():
        say(f"  {_line(row)}")
    failed = sum(row.plan is None for row in outcomes)
    if failed:
        say(f"{failed} of {len(outcomes)} cases failed; the column 'error' says why")
    say(f"Written: {arguments.csv}" + (f", {arguments.plans}" if arguments.plans else ""))
    say("Every plan is a proposal: confirm it with a scan on site, and check the licence.")
