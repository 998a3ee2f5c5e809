"""The commands `sidon plan`, `sidon check` and `sidon demo`, and the exit codes they end with."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path

from sidon.cli.arguments import (
    Report,
    Search,
    file_fault,
    output_faults,
    read_search,
    read_study,
)
from sidon.cli.inputs import inputs_of
from sidon.cli.interrupt import Interrupts
from sidon.cli.progress import Asked, Progress
from sidon.cli.say import complain, say
from sidon.exceptions import CheckError, Fault
from sidon.plan import Plan
from sidon.study import Study

__all__ = ["check", "demo", "plan"]

_WRITERS: dict[str, Callable[[Plan, Path], None]] = {
    "--out": Plan.to_json,
    "--csv": Plan.to_csv,
    "--picture": Plan.picture,
}


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
    report = Report([])
    search = read_search(arguments, report)
    named = {"--out": arguments.out, "--csv": arguments.csv, "--picture": arguments.picture}
    outputs = {name: path for name, path in named.items() if path is not None}
    report.faults += output_faults(inputs_of(arguments.study), outputs)
    study = read_study(arguments.study, report)
    report.raise_if_any()
    if study is None:  # then there is a fault
        return 2
    return _plan_and_write(study, outputs, search, arguments)


def check(arguments: argparse.Namespace) -> int:
    """Recount a plan from its file alone.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``plan`` and ``all_refusals``.

    Returns
    -------
    int
        0 when no rule is broken and every required link has a carrier.
    """
    path: Path = arguments.plan
    try:
        found = Plan.from_json(path)
    except OSError as error:
        Report([file_fault(path, error)]).raise_if_any()
        return 2
    try:
        found.check()
    except CheckError as error:
        say(f"{path}: the check failed: {error}")
        return 1
    say(f"{path}: {_checked(found)}")
    missing = found.missing
    if missing:
        one = len(missing) == 1
        links = "1 required link has" if one else f"{len(missing)} required links have"
        say(f"{links} no carrier: {', '.join(missing)}")
    for line in found.refusal_lines(all_refusals=arguments.all_refusals):
        say(line)
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
    text = study_text()
    report = Report([])
    search = read_search(arguments, report)
    outputs = {
        "--out": directory / "plan.json",
        "--csv": directory / "plan.csv",
        "--picture": directory / "spectrum.png",
    }
    report.faults += _demo_faults(directory, text, list(outputs.values()))
    report.raise_if_any()
    directory.mkdir(parents=True, exist_ok=True)
    write_text(directory / "study.toml", text)
    say("The event, the place and every figure in this demonstration are invented.\n")
    return _plan_and_write(Study.from_toml_text(text), outputs, search, arguments)


def _demo_faults(directory: Path, text: str, outputs: list[Path]) -> list[Fault]:
    if not directory.is_dir():
        above = [directory, *directory.absolute().parents]
        there = next(path for path in above if os.path.lexists(path))
        if there.is_dir():
            return []
        return [Fault("--out", f"{there} is no directory", "name a directory, or a new one")]
    study = directory / "study.toml"
    faults = [fault for path in (study, *outputs) for fault in output_faults({}, {str(path): path})]
    # It may be someone's own, begun from an earlier demonstration.
    if study.is_file() and study.read_bytes() != text.encode():
        what = f"{study} is not the demonstration's and would be lost"
        faults.append(Fault("--out", what, "name another directory, or move that file away"))
    return faults


def _plan_and_write(
    study: Study, outputs: dict[str, Path], search: Search, arguments: argparse.Namespace
) -> int:
    progress = None
    if not arguments.quiet:
        progress = Progress(
            sys.stderr,
            asked=Asked.of(study),
            iterations=search["iterations"],
            seconds=search["seconds"],
        )
    with Interrupts(progress) as interrupts:
        try:
            found = study.plan(**search, progress=interrupts.watch)
        except KeyboardInterrupt:
            complain("stopped before there was a plan; nothing is written")
            return 130
        finally:
            if progress is not None:
                progress.close()
        # The plan first: a table or a picture that cannot be written must not cost it.
        for name, path in outputs.items():
            _WRITERS[name](found, path)
        say(found.summary(all_refusals=arguments.all_refusals))
        say("")
        say(f"Check: {_checked(found)}")
        say(f"Written: {', '.join(str(path) for path in outputs.values())}")
        if interrupts.asked or found.stop_reason == "interrupted":
            complain("stopped by Ctrl-C; what is written is the best plan so far")
            return 130
    return 0 if found.complete else 1


def _checked(found: Plan) -> str:
    links, foreign = len(found.assignments), len(found.document.incumbents)
    counted = f"{links} link{'' if links == 1 else 's'}"
    if foreign:
        counted += f" and {foreign} foreign carrier{'' if foreign == 1 else 's'}"
    return f"{counted} recounted from the plan alone, no rule broken."
