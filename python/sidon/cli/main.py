"""What the command line understands, and how it ends."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from sidon._start import end as end_of_start
from sidon.cli import capacity, explain, living, place, repair, scan, sweep, views
from sidon.cli.commands import check, demo, plan
from sidon.cli.say import complain
from sidon.exceptions import CheckError, SidonError

__all__ = ["main"]

_SEED = 0
_DEMO_ITERATIONS = 50_000

_EXITS = """\
exit codes:
  0    every required link is served, and the independent check passed
  1    a required link is refused, or the check found a violation
  2    bad input: all faults are listed on standard error
  130  stopped by Ctrl-C; once the search runs, its best plan so far is written all the same
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments; those of the process when not given.

    Returns
    -------
    int
        The exit code: 0 when every required link is served and the check passed, 1 when not, 2 for
        bad input, 130 after Ctrl-C.
    """
    try:
        end_of_start()
        arguments = _parser().parse_args(argv)
        code: int = arguments.run(arguments)
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read the output has closed it; a second complaint at exit would help nobody.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except CheckError as error:
        complain(f"the plan found breaks rules and is not written; please report it: {error}")
        return 1
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        complain(f"{named}{error.strerror or error}; see that it can be read or written")
        return 2
    except (SidonError, ImportError) as error:
        complain(str(error))
        return 2
    except KeyboardInterrupt:
        complain("stopped")
        return 130
    return code


def _parser() -> argparse.ArgumentParser:
    import sidon

    parser = argparse.ArgumentParser(
        prog="sidon",
        description="Intermodulation-compatible frequency plans for wireless microphones, in-ear "
        "monitors and other audio links.",
        epilog=_EXITS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument(
        "--version", action="version", version="sidon {sidon} ({build})".format(**sidon.versions())
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    _add_plan(commands)
    _add_check(commands)
    _add_demo(commands)
    _add_capacity(commands)
    _add_sweep(commands)
    _add_scan(commands)
    _add_picture(commands)
    _add_parties(commands)
    _add_place(commands)
    _add_explain(commands)
    _add_living(commands)
    return parser


def _add_plan(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(commands, "plan", "find a plan for a study, check it, and write it")
    parser.add_argument("study", type=Path, metavar="STUDY", help="study file, .toml or .json")
    parser.add_argument(
        "--out", type=Path, required=True, metavar="FILE", help="plan.json to write"
    )
    parser.add_argument("--csv", type=Path, metavar="FILE", help="also write the plan as CSV")
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="also draw it: png, pdf or svg"
    )
    _add_search(parser)
    parser.set_defaults(run=plan)


def _add_check(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(commands, "check", "recount every rule of a plan from its file alone")
    parser.add_argument("plan", type=Path, metavar="PLAN", help="plan.json")
    _add_refusals(parser)
    parser.set_defaults(run=check)


def _add_demo(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(commands, "demo", "plan an invented weekend with three stages")
    parser.add_argument(
        "--out",
        type=Path,
        required=True,
        metavar="DIR",
        help="directory for study.toml, plan.json, plan.csv and spectrum.png; a study.toml there "
        "that differs is never replaced",
    )
    # Repeatable unless asked otherwise: everyone sees the same demonstration.
    _add_search(parser, iterations=_DEMO_ITERATIONS)
    parser.set_defaults(run=demo)


def _add_sweep(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    purpose = "plan studies over variations and seeds, on all cores or a cluster"
    exits = _exits(
        "every case has a plan that serves every required link",
        "a case failed, or its plan refuses a required link",
        "stopped by Ctrl-C; what was finished is written all the same",
    )
    parser = _command(commands, "sweep", purpose, exits)
    sweep.add_arguments(parser)
    _add_search(parser, refusals=False)
    parser.set_defaults(run=sweep.run)


def _add_capacity(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(commands, "capacity", "find how many carriers fit, of each equipment")
    capacity.add_arguments(parser)
    parser.set_defaults(run=capacity.run)


def _add_scan(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(
        commands, "scan", "say what sweeps of the air show", _exits("the scans were read")
    )
    scan.add_arguments(parser)
    parser.set_defaults(run=scan.run)


def _add_picture(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(commands, "picture", "draw a plan from its file alone", _exits("drawn"))
    parser.add_argument("plan", type=Path, metavar="PLAN", help="plan.json")
    parser.add_argument(
        "--kind",
        default="spectrum",
        metavar="KIND",
        help="spectrum (the default); zones: who stands where; timeline: use over time; reuse: "
        "where spectrum is used again",
    )
    parser.add_argument(
        "--out", type=Path, required=True, metavar="FILE", help="file to draw: png, pdf or svg"
    )
    parser.set_defaults(run=views.picture)


def _add_parties(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(
        commands,
        "parties",
        "write a sheet for each party of a plan",
        _exits("the sheets are written"),
    )
    parser.add_argument("plan", type=Path, metavar="PLAN", help="plan.json")
    parser.add_argument(
        "--out",
        type=Path,
        required=True,
        metavar="DIR",
        help="directory for a text and a CSV file of each party",
    )
    parser.set_defaults(run=views.parties)


def _add_place(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    purpose = "say what is free at the place of a study, and why"
    parser = _command(commands, "place", purpose, _exits("the report is written"))
    place.add_arguments(parser)
    parser.set_defaults(run=place.run)


def _add_explain(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    purpose = "say why a study does not fit, and what each relaxation would buy"
    exits = _exits("every required link is served", "one is not: what stands in the way is told")
    parser = _command(commands, "explain", purpose, exits)
    explain.add_arguments(parser)
    _add_search(parser, refusals=False)
    parser.set_defaults(run=explain.run)


def _add_living(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    for name, purpose, add, exits in (
        (
            "diff",
            "tell what differs between two plans, link by link",
            living.add_diff,
            _exits("the plans were compared, whether they differ or not"),
        ),
        (
            "repair",
            "retune the fewest links after a change",
            repair.add_arguments,
            _exits(
                "every required link has a carrier; with --what-if: nothing would break",
                "a required link has none; with --what-if: something would break",
                "stopped by Ctrl-C; once there is a repair, the best so far is written",
            ),
        ),
        (
            "alternatives",
            "list the best frequencies for one link",
            living.add_alternatives,
            _exits("there is a clear frequency", "there is none"),
        ),
        (
            "spares",
            "check that every spare serves the links it is kept for",
            living.add_spares,
            _exits("every move to a spare is clean", "a move to a spare would break a rule"),
        ),
    ):
        add(_command(commands, name, purpose, exits))


def _exits(good: str, bad: str | None = None, stopped: str = "stopped by Ctrl-C") -> str:
    """Describe the exit codes of one command."""
    rows = {"0": good, "1": bad, "2": "bad input: all faults are listed on standard error"}
    told = [f"  {code:<4} {text}\n" for code, text in (rows | {"130": stopped}).items() if text]
    return "exit codes:\n" + "".join(told)


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    purpose: str,
    epilog: str = _EXITS,
) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=purpose,
        description=purpose[:1].upper() + purpose[1:] + ".",
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )


def _add_search(
    parser: argparse.ArgumentParser, *, iterations: int | None = None, refusals: bool = True
) -> None:
    # Numbers are read later, so that a bad one is reported together with all other faults.
    usual = f"{iterations:,} iterations" if iterations else "5 seconds"
    parser.add_argument(
        "--seed", default=str(_SEED), metavar="N", help=f"random seed (default {_SEED})"
    )
    parser.add_argument(
        "--seconds",
        metavar="S",
        help=f"time limit; ends sooner when all is served (with no limit given: {usual})",
    )
    parser.add_argument(
        "--iterations",
        metavar="N",
        help="limit of iterations: the same plan for the same seed on any number of threads",
    )
    parser.set_defaults(usual_iterations=iterations)
    parser.add_argument("--threads", metavar="N", help="threads (default: one per core)")
    parser.add_argument("--quiet", action="store_true", help="no progress")
    if refusals:
        _add_refusals(parser)


def _add_refusals(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--all-refusals", action="store_true", help="list every refused link, however many"
    )
