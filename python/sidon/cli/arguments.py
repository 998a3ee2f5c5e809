"""Reading the command line's arguments: every fault of theirs, and of the study, in one report."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypedDict, TypeVar

from sidon._files import NAME_A_FILE, what_else
from sidon._options import check_options
from sidon.exceptions import Fault, InvalidProblemError, PlanError, StudyError
from sidon.plan import Plan
from sidon.study import Study

__all__ = [
    "Report",
    "Search",
    "file_fault",
    "output_faults",
    "read_plan",
    "read_search",
    "read_study",
]

PICTURES = (".png", ".pdf", ".svg")

N = TypeVar("N", int, float)


class Search(TypedDict):
    """The limits of a search, as `Study.plan` takes them."""

    seed: int
    seconds: float | None
    iterations: int | None
    threads: int | None


@dataclass
class Report:
    """Faults of several arguments.

    Parameters
    ----------
    faults : list of Fault
        What was found so far.
    further : bool
        Whether some rules could not be judged before these faults are mended.
    """

    faults: list[Fault]
    further: bool = False

    def raise_if_any(self) -> None:
        """Raise with everything found."""
        if self.faults:
            raise StudyError(self.faults, further=self.further)


def read_search(arguments: argparse.Namespace, report: Report) -> Search:
    """Read the options of the search.

    Parameters
    ----------
    arguments : argparse.Namespace
        Their texts.
    report : Report
        Takes the faults.

    Returns
    -------
    Search
        The values; of no use when there are faults.
    """

    def number(name: str, read: Callable[[str], N], kind: str) -> N | None:
        text: str | None = getattr(arguments, name)
        if text is None:
            return None
        try:
            return read(text)
        except ValueError:
            what = f"{text!r} is not {kind}"
            report.faults.append(Fault(f"--{name}", what, f"write {kind}, in digits"))
            return None

    found = Search(
        seed=number("seed", int, "a whole number") or 0,
        seconds=number("seconds", float, "a number"),
        iterations=number("iterations", int, "a whole number"),
        threads=number("threads", int, "a whole number"),
    )
    try:
        check_options("max-service", "local-search", progress=None, **found)
    except InvalidProblemError as error:
        report.faults += [Fault(f"--{f.place}", f.what, f.remedy) for f in error.faults]
    if found["iterations"] is None and found["seconds"] is None:
        found["iterations"] = arguments.usual_iterations
    return found


def read_study(path: Path, report: Report) -> Study | None:
    """Read a study file.

    Parameters
    ----------
    path : Path
        The file.
    report : Report
        Takes the faults.

    Returns
    -------
    Study or None
        None when it holds faults.
    """
    try:
        return Study.from_file(path)
    except StudyError as error:
        report.faults += error.faults
        report.further |= error.further
    except OSError as error:
        report.faults.append(file_fault(path, error))
    return None


def read_plan(path: Path, report: Report, place: str = "the plan") -> Plan | None:
    """Read a plan file.

    Parameters
    ----------
    path : Path
        The file.
    report : Report
        Takes what is wrong with it.
    place : str, default "the plan"
        What to call it.

    Returns
    -------
    Plan or None
        None when it cannot be used.
    """
    try:
        return Plan.from_json(path)
    except PlanError as error:
        report.faults.append(Fault(place, str(error), "mend it, or make the plan again"))
    except OSError as error:
        report.faults.append(file_fault(path, error))
    return None


def file_fault(path: Path, error: OSError) -> Fault:
    """Say why a file cannot be read, and what to do.

    Parameters
    ----------
    path : Path
        The file.
    error : OSError
        What the system said.

    Returns
    -------
    Fault
        In words.
    """
    if isinstance(error, FileNotFoundError):
        remedy = f"check the name; it is looked for in {path.absolute().parent}"
        return Fault(str(path), "there is no such file", remedy)
    if isinstance(error, IsADirectoryError):
        return Fault(str(path), "it is a directory", "name the file in it")
    if isinstance(error, PermissionError):
        return Fault(str(path), "it must not be read", "ask for the right to read it")
    return Fault(str(path), str(error.strerror or error), "see that it can be read")


def output_faults(
    inputs: dict[str, Path], outputs: dict[str, Path], *, drawn: str = "--picture"
) -> list[Fault]:
    """Find what would keep the outputs from being written, or what they would destroy.

    Parameters
    ----------
    inputs, outputs : dict of str to Path
        Files by the name of their argument.
    drawn : str, default "--picture"
        The argument whose file must be drawable.

    Returns
    -------
    list of Fault
        Found before the search, whose result would be lost.
    """
    faults = []
    earlier = dict(inputs)
    for name, path in outputs.items():
        faults += [Fault(name, what, remedy) for what, remedy in _unwritable(path)]
        if name == drawn and path.suffix.lower() not in PICTURES:
            what = f"the name {path.name!r} does not say what to draw"
            faults.append(Fault(name, what, f"let it end in {', '.join(PICTURES)}"))
        for other, taken in earlier.items():
            if _same(path, taken):
                what = f"{path} is the same file as {other}"
                faults.append(Fault(name, what, "give every output a name of its own"))
                break
        earlier[name] = path
    return faults


def _unwritable(path: Path) -> list[tuple[str, str]]:
    kind = what_else(path)
    if kind is not None:
        return [(f"{path} is {kind}", NAME_A_FILE)]
    try:
        path.stat()
    except FileNotFoundError:
        pass
    except OSError as error:
        # Too long a name, links in a circle, a file where a directory should be, no right to look.
        return [(f"{path}: {(error.strerror or str(error)).lower()}", "name another file")]
    parent = Path(os.path.realpath(path)).parent
    if not parent.is_dir():
        return [(f"the directory {parent} does not exist", "make it first, or name another")]
    if not os.access(parent, os.W_OK):
        return [(f"the directory {parent} cannot be written to", "name another")]
    return []


def _same(a: Path, b: Path) -> bool:
    if os.path.realpath(a) == os.path.realpath(b):
        return True
    try:
        # One file under two names, as where upper and lower case do not differ.
        return a.samefile(b)
    except OSError:
        return False
