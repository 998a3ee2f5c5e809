"""What each command does, and the exit code it ends with."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from sidon.cli.progress import Progress
from sidon.cli.say import complain, say
from sidon.exceptions import CheckError, PlanError
from sidon.plan import Plan
from sidon.plan.tables import refusals
from sidon.study import Study

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["check", "demo", "plan"]

_PICTURES = (".png", ".pdf", ".svg")


def plan(arguments: argparse.Namespace) -> int:
    """Plan a study and write the result.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``study``, ``out``, ``csv``, ``picture`` and the options of the search.

    Returns
    -------
    int
        The exit code.
    """
    study = Study.from_file(arguments.study)
    outputs = {"json": arguments.out, "csv": arguments.csv, "picture": arguments.picture}
    return _plan_and_write(study, {k: v for k, v in outputs.items() if v}, arguments)


def check(arguments: argparse.Namespace) -> int:
    """Recount a plan from its file alone.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``plan``.

    Returns
    -------
    int
        0 when no rule is broken and no required link is refused.
    """
    found = Plan.from_json(arguments.plan)
    try:
        found.check()
    except CheckError as error:
        say(f"{arguments.plan}: the check failed: {error}")
        return 1
    say(f"{arguments.plan}: {_checked(found)}")
    if not found.complete:
        say("Required links are refused. All refusals:")
        for names, reason in refusals(found.document):
            say(f"  {names}: {reason}")
    return 0 if found.complete else 1


def demo(arguments: argparse.Namespace) -> int:
    """Plan the invented weekend and write everything into a directory.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``out`` and the options of the search.

    Returns
    -------
    int
        The exit code.
    """
    from sidon._files import write_text
    from sidon.demo import study_text

    directory: Path = arguments.out
    directory.mkdir(parents=True, exist_ok=True)
    text = study_text()
    write_text(directory / "study.toml", text)
    outputs = {
        "json": directory / "plan.json",
        "csv": directory / "plan.csv",
        "picture": directory / "spectrum.png",
    }
    say("The event, the place and every figure in this demonstration are invented.\n")
    return _plan_and_write(Study.from_toml_text(text), outputs, arguments)


def _plan_and_write(study: Study, outputs: dict[str, Path], arguments: argparse.Namespace) -> int:
    # Found out now and not after the search, whose result would be lost.
    _must_be_writable(outputs.values())
    if "picture" in outputs and outputs["picture"].suffix.lower() not in _PICTURES:
        what = f"--picture {outputs['picture']}: name it {', '.join(_PICTURES)}"
        raise PlanError(what)
    iterations = arguments.iterations
    if iterations is None and arguments.seconds is None:
        iterations = arguments.usual_iterations
    progress = None if arguments.quiet else Progress(sys.stderr, asked=study.asked)
    try:
        found = study.plan(
            seed=arguments.seed,
            seconds=arguments.seconds,
            iterations=iterations,
            threads=arguments.threads,
            progress=progress,
        )
    finally:
        if progress is not None:
            progress.close()
    writers = {"json": found.to_json, "csv": found.to_csv, "picture": found.picture}
    for kind, path in outputs.items():
        writers[kind](path)
    say(found.summary())
    say("")
    say(f"Check: {_checked(found)}")
    say(f"Written: {', '.join(str(path) for path in outputs.values())}")
    if found.stop_reason == "interrupted":
        complain("stopped by Ctrl-C; what is written is the best plan so far")
        return 130
    return 0 if found.complete else 1


def _checked(found: Plan) -> str:
    carriers = len(found.assignments) + len(found.document.incumbents)
    return f"{carriers} carriers recounted from the plan alone, no rule broken."


def _must_be_writable(paths: Iterable[Path]) -> None:
    for path in paths:
        if path.is_dir():
            raise IsADirectoryError(21, "is a directory; name a file", str(path))
        if not path.parent.is_dir():
            raise FileNotFoundError(2, "the directory does not exist; make it first", str(path))
        if not os.access(path.parent, os.W_OK):
            raise PermissionError(13, "the directory cannot be written to", str(path))
