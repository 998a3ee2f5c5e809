"""The commands `sidon picture` and `sidon parties`: what can be made of a plan file alone."""

from __future__ import annotations

import argparse
from pathlib import Path

from sidon.cli.arguments import Report, output_faults, read_plan
from sidon.cli.say import say
from sidon.event.party import sheet_paths, sheets, write_sheets
from sidon.exceptions import Fault

__all__ = ["KINDS", "parties", "picture"]

KINDS = ("spectrum", "zones", "timeline", "reuse")


def picture(arguments: argparse.Namespace) -> int:
    """Draw a plan.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``plan``, ``kind`` and ``out``.

    Returns
    -------
    int
        0 once it is drawn.
    """
    report = Report([])
    if arguments.kind not in KINDS:
        what = f"{arguments.kind!r} is no kind of picture"
        report.faults.append(Fault("--kind", what, f"use {', '.join(KINDS)}"))
    report.faults += output_faults(
        {"the plan": arguments.plan}, {"--out": arguments.out}, drawn="--out"
    )
    found = read_plan(arguments.plan, report)
    report.raise_if_any()
    if found is None:  # then there is a fault
        return 2
    found.picture(arguments.out, kind=arguments.kind)
    say(f"Written: {arguments.out}")
    return 0


def parties(arguments: argparse.Namespace) -> int:
    """Write a sheet for each party of a plan.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``plan`` and ``out``.

    Returns
    -------
    int
        0 once they are written.
    """
    report = Report([])
    folder: Path = arguments.out
    if folder.exists() and not folder.is_dir():
        remedy = "name a directory, or a new one"
        report.faults.append(Fault("--out", f"{folder} is no directory", remedy))
    found = read_plan(arguments.plan, report)
    if found is not None and not sheets(found):
        remedy = "give the rows of the study's demand or requests a party, and plan again"
        report.faults.append(Fault(str(arguments.plan), "no link belongs to a party", remedy))
    if found is not None and not report.faults and folder.exists():
        paths = [path for pair in sheet_paths(sheets(found), folder).values() for path in pair]
        inputs = {"the plan": arguments.plan}
        report.faults += [f for p in paths for f in output_faults(inputs, {f"--out, {p}": p})]
    report.raise_if_any()
    if found is None:
        return 2
    named = {row.party for rows in sheets(found).values() for row in rows if row.party}
    written = write_sheets(found, folder)
    number = f"{len(named)} part{'y' if len(named) == 1 else 'ies'}"
    rest = " and the links without a party" if len(written) > 2 * len(named) else ""
    say(f"Written: {len(written)} files for {number}{rest} in {folder}")
    return 0
