"""The commands `sidon diff`, `sidon alternatives` and `sidon spares`: what a plan can tell."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from sidon.cli.arguments import Report, file_fault, read_plan
from sidon.cli.say import say
from sidon.exceptions import Fault, InvalidProblemError, UnreadableError
from sidon.plan import Plan
from sidon.plan.caution import before_retuning
from sidon.spectrum.scan import Scan

__all__ = [
    "add_alternatives",
    "add_diff",
    "add_spares",
    "alternatives",
    "diff",
    "spares",
]


def add_diff(parser: argparse.ArgumentParser) -> None:
    """Declare what `sidon diff` takes.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument("old", type=Path, metavar="OLD", help="plan.json as it was")
    parser.add_argument("new", type=Path, metavar="NEW", help="plan.json as it is now")
    parser.set_defaults(run=diff)


def diff(arguments: argparse.Namespace) -> int:
    """Tell what differs between two plans.

    Parameters
    ----------
    arguments : argparse.Namespace
        As declared.

    Returns
    -------
    int
        0, whether they differ or not.
    """
    report = Report([])
    old, new = read_plan(arguments.old, report), read_plan(arguments.new, report)
    report.raise_if_any()
    if old is None or new is None:  # then there is a fault
        return 2
    found = old.diff(new)
    if found.old == found.new:  # a plan and its repair: the files tell them apart
        found = replace(found, old=str(arguments.old), new=str(arguments.new))
    say(found.summary())
    return 0


def add_alternatives(parser: argparse.ArgumentParser) -> None:
    """Declare what `sidon alternatives` takes.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument("plan", type=Path, metavar="PLAN", help="plan.json")
    parser.add_argument("link", metavar="LINK", help="the link to move")
    parser.add_argument("-k", default="5", metavar="N", help="how many at most (default 5)")
    parser.add_argument(
        "--scan", type=Path, metavar="FILE", help="a scan of the place: quiet frequencies first"
    )
    parser.set_defaults(run=alternatives)


def alternatives(arguments: argparse.Namespace) -> int:
    """List the best frequencies to move a link to.

    Parameters
    ----------
    arguments : argparse.Namespace
        As declared.

    Returns
    -------
    int
        0 when there is one, 1 when there is none.
    """
    report = Report([])
    plan = read_plan(arguments.plan, report)
    if not arguments.k.isdecimal():
        what = f"{arguments.k!r} is not a whole number"
        report.faults.append(Fault("-k", what, "write a whole number, in digits"))
    scan = None if arguments.scan is None else _read_scan(arguments.scan, report)
    if plan is not None and not report.faults:
        try:
            found = plan.alternatives(arguments.link, int(arguments.k), levels=scan)
        except InvalidProblemError as error:
            places = {"link": "LINK", "k": "-k"}
            report.faults += [
                Fault(places[f.place], f.what, f.remedy.replace("retry_refused", "--retry-refused"))
                for f in error.faults
            ]
        else:
            say(found.summary())
            if found:
                say("\n".join(before_retuning(_kinds(plan, arguments.link))))
            return 0 if found else 1
    report.raise_if_any()
    return 2


def _kinds(plan: Plan, link: str) -> list[str]:
    """Name the profile of a link, and what it says it is."""
    document = plan.document
    used = {row.profile for row in document.assignments if row.link == link}
    used |= {row.profile for row in document.refused if row.link == link}
    return [f"{p.name} {p.kind}" for p in document.profiles if p.name in used]


def _read_scan(path: Path, report: Report) -> Scan | None:
    try:
        return Scan.from_file(path)
    except InvalidProblemError as error:
        report.faults += error.faults
    except UnreadableError as error:
        report.faults.append(Fault("--scan", f"{path}: {error.why}", error.remedy))
    except OSError as error:
        report.faults.append(file_fault(path, error))
    return None


def add_spares(parser: argparse.ArgumentParser) -> None:
    """Declare what `sidon spares` takes.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument("plan", type=Path, metavar="PLAN", help="plan.json")
    parser.set_defaults(run=spares)


def spares(arguments: argparse.Namespace) -> int:
    """Check the promise of the spares.

    Parameters
    ----------
    arguments : argparse.Namespace
        As declared.

    Returns
    -------
    int
        0 when it holds, 1 when not.
    """
    report = Report([])
    plan = read_plan(arguments.plan, report)
    report.raise_if_any()
    if plan is None:  # then there is a fault
        return 2
    found = plan.spare_promise()
    say(found.summary())
    return 0 if found.holds else 1
