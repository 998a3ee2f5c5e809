"""`sidon capacity STUDY`: how many carriers fit, with its progress, outputs and exit code."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from sidon.capacity.budget import Moment
from sidon.capacity.result import Capacity
from sidon.cli.arguments import Report, output_faults, read_search, read_study
from sidon.cli.interrupt import Interrupts
from sidon.cli.say import complain, say
from sidon.exceptions import Fault, InvalidProblemError

__all__ = ["add_arguments", "run"]

_SECONDS = "10"
_WHO = {"profiles", "zones", "demand"}
_STOPPING = "sidon: stopping; telling what was found so far\n"
_RENEWAL_S = 0.1
_LINES_S = 2.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command understands.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The parser of the command.
    """
    parser.add_argument("study", type=Path, metavar="STUDY", help="study file, .toml or .json")
    parser.add_argument(
        "--classes",
        metavar="NAMES",
        help="also list classes of equipment: all, or names with commas between (a study without "
        "profiles lists all of them)",
    )
    parser.add_argument(
        "--csv", type=Path, metavar="FILE", help="write every number with its list to tune"
    )
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="also draw it: png, pdf or svg"
    )
    parser.add_argument("--no-what-if", action="store_true", help="leave out what would change")
    parser.add_argument("--seed", default="0", metavar="N", help="random seed (default 0)")
    parser.add_argument(
        "--seconds", metavar="S", help=f"time limit (with no limit given: {_SECONDS} seconds)"
    )
    parser.add_argument(
        "--iterations",
        metavar="N",
        help="limit of iterations: the same answer for the same seed on any number of threads",
    )
    parser.add_argument("--threads", metavar="N", help="threads (default: one per core)")
    parser.add_argument("--quiet", action="store_true", help="no progress")
    parser.set_defaults(usual_iterations=None)
    parser.epilog = (
        "exit codes:\n"
        "  0    what is asked fits today with its spares: every profile of the study, alone and\n"
        "       with every other kind in one air; or, where there is no profile, a class of the\n"
        "       kind asked for, and one of the mixes in one air\n"
        "  1    something that is asked, or a spare, does not fit or was not found to, alone or\n"
        "       in one air, or it cannot be told; growth does not count here\n"
        "  2    bad input: all faults are listed on standard error\n"
        "  130  stopped by Ctrl-C; what was found is written all the same\n"
    )


def run(arguments: argparse.Namespace) -> int:
    """Answer how many fit, and write the result.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``study``, ``classes``, ``csv``, ``picture``, ``no_what_if`` and the options of the search.

    Returns
    -------
    int
        The exit code.
    """
    report = Report([])
    if arguments.seconds is None and arguments.iterations is None:
        arguments.seconds = _SECONDS
    search = read_search(arguments, report)
    named = {"--csv": arguments.csv, "--picture": arguments.picture}
    outputs = {name: path for name, path in named.items() if path is not None}
    report.faults += output_faults({"the study": arguments.study}, outputs)
    study = read_study(arguments.study, report)
    report.faults = _asking(report.faults)
    report.raise_if_any()
    if study is None:  # then there is a fault
        return 2
    line = None if arguments.quiet else Line(sys.stderr)
    with Interrupts(line, _STOPPING) as interrupts:
        try:
            found = study.capacity(
                **search,
                classes=_classes(arguments.classes),
                what_if=not arguments.no_what_if,
                progress=interrupts.watch,
            )
        except InvalidProblemError as error:
            faults = [Fault(f"--{f.place}", f.what, f.remedy) for f in error.faults]
            Report(faults).raise_if_any()
            return 2
        except KeyboardInterrupt:
            complain("stopped before anything was found; nothing is written")
            return 130
        finally:
            if line is not None:
                line.close()
        if arguments.csv is not None:
            found.to_csv(arguments.csv)
        if arguments.picture is not None:
            found.picture(arguments.picture)
        return _told(found, outputs, stopped=interrupts.asked)


def _asking(faults: Sequence[Fault]) -> list[Fault]:
    """Ask for the number alone where a study says nothing of who wants how many."""
    missing = [f for f in faults if f.place in _WHO and f.what.endswith("is missing")]
    if {fault.place for fault in missing} != _WHO:
        return list(faults)
    remedy = "add [capacity] with ask = 12, in_ears = { stereo = 4 } or both"
    remedy += "; or say it by profiles, zones and demand"
    asked = Fault("capacity", "nothing says how many are wanted", remedy)
    return [asked, *(fault for fault in faults if fault not in missing)]


def _classes(text: str | None) -> str | list[str] | None:
    if text is None or text.strip() == "all":
        return None if text is None else "all"
    return [name.strip() for name in text.split(",") if name.strip()]


def _told(found: Capacity, outputs: dict[str, Path], *, stopped: bool) -> int:
    say(found.summary())
    if outputs:
        say("")
        say(f"Written: {', '.join(str(path) for path in outputs.values())}")
    if stopped or found.stop_reason == "interrupted":
        complain("stopped by Ctrl-C; the numbers are the best so far")
        return 130
    return 0 if found.enough else 1


class Line:
    """Shows which question is at hand: a line that renews itself, or a line now and then.

    Parameters
    ----------
    stream : text stream
        Where to, usually standard error.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._terminal = stream.isatty()
        self._pause_s = _RENEWAL_S if self._terminal else _LINES_S
        self._shown_s = -_LINES_S
        self._width = 0
        self._hushed = False

    def __call__(self, moment: Moment) -> None:
        """Take note of a moment."""
        if self._hushed or moment.time_s - self._shown_s < self._pause_s:
            return
        self._shown_s = moment.time_s
        counted = f"{moment.done} of {moment.total} questions"
        text = f"{moment.time_s:6.1f} s  {counted}; {moment.label}"
        if self._terminal:
            # A line that wraps can no longer be renewed.
            text = text[: _columns(self._stream) - 1]
            self._stream.write("\r" + text.ljust(self._width))
            self._width = len(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()

    def hush(self) -> bool:
        """Fall silent; whether there is a line that renews itself and has not ended."""
        self._hushed = True
        renewing = self._terminal and self._width > 0
        self._width = 0
        return renewing

    def close(self) -> None:
        """End the line that renews itself."""
        if self._terminal and self._width:
            self._stream.write("\n")
            self._stream.flush()
            self._width = 0


def _columns(stream: TextIO) -> int:
    try:
        return os.get_terminal_size(stream.fileno()).columns or 80
    except (OSError, ValueError):
        return 80
