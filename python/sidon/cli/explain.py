"""The command `sidon explain`: why a study does not fit, and what would help."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sidon.cli.arguments import Report, output_faults, read_plan, read_search, read_study
from sidon.cli.inputs import inputs_of
from sidon.cli.say import say
from sidon.event.explain import explain
from sidon.exceptions import Fault

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes, but for the options of the search.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument("study", type=Path, metavar="STUDY", help="study file, .toml or .json")
    parser.add_argument(
        "--plan", type=Path, metavar="FILE", help="the plan to explain; made anew without"
    )
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write the relaxations as CSV")


def run(arguments: argparse.Namespace) -> int:
    """Explain a study.

    Parameters
    ----------
    arguments : argparse.Namespace
        As declared.

    Returns
    -------
    int
        0 when every required link is served, 1 when there was something to explain.
    """
    report = Report([])
    search = read_search(arguments, report)
    inputs = inputs_of(arguments.study)
    if arguments.plan is not None:
        inputs["--plan"] = arguments.plan
    if arguments.csv is not None:
        report.faults += output_faults(inputs, {"--csv": arguments.csv})
    study = read_study(arguments.study, report)
    plan = read_plan(arguments.plan, report, "--plan") if arguments.plan is not None else None
    if study is not None and plan is not None:
        asked = plan.document.asked
        if {*asked.required, *asked.spares} != set(study.link_ids):
            what = f"the plan {arguments.plan} answers another study"
            report.faults.append(
                Fault("--plan", what, "name a plan of this study, or leave it out")
            )
    report.raise_if_any()
    if study is None:  # then there is a fault
        return 2

    def progress(line: str) -> None:
        if not arguments.quiet:
            sys.stderr.write(f"{line}\n")
            sys.stderr.flush()

    found = explain(study, plan, **search, progress=progress)
    say(found.text)
    if arguments.csv is not None:
        found.columns().to_csv(arguments.csv)
        say(f"\nWritten: {arguments.csv}")
    return 1 if found.missing else 0
