"""The command `sidon place`: what is free at the place of a study, channel by channel."""

from __future__ import annotations

import argparse
from pathlib import Path

from sidon.cli.arguments import Report, output_faults, read_study
from sidon.cli.inputs import inputs_of
from sidon.cli.say import say
from sidon.exceptions import StudyError
from sidon.study.place import only_nothing
from sidon.study.place_alone import place_alone

__all__ = ["add_arguments", "run"]


_EXITS = """\
exit codes:
  0    the report was written: estimates, not permissions
  2    bad input: all faults are listed on standard error
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.epilog = _EXITS
    parser.add_argument(
        "study", type=Path, metavar="STUDY", help="study file with availability.region"
    )
    parser.add_argument("--csv", type=Path, metavar="FILE", help="also write the table as CSV")
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="also draw it: png, pdf or svg"
    )


def run(arguments: argparse.Namespace) -> int:
    """Say what is free at the place of a study.

    Parameters
    ----------
    arguments : argparse.Namespace
        ``study``, ``csv`` and ``picture``.

    Returns
    -------
    int
        0 when the report was written; bad input raises.
    """
    report = Report([])
    named = {"--csv": arguments.csv, "--picture": arguments.picture}
    outputs = {name: path for name, path in named.items() if path is not None}
    report.faults += output_faults(inputs_of(arguments.study), outputs)
    own = Report([])
    study = read_study(arguments.study, own)
    found, name = None, ""
    if only_nothing(own.faults):
        # What may not be used as it is can still be told, channel by channel.
        alone = place_alone(arguments.study)
        if alone is not None:
            found, name = alone
            own = Report([])
    report.faults += own.faults
    report.further |= own.further
    if study is not None:
        name = study.model.place.name
        try:
            found = study.place_report()
        except StudyError as error:
            report.faults += error.faults
    report.raise_if_any()
    if found is None:  # then there is a fault
        return 2
    say(found.summary())
    if arguments.csv is not None:
        found.to_csv(arguments.csv)
    if arguments.picture is not None:
        from sidon.view.place import save_place

        save_place(found, arguments.picture, title=name)
    if outputs:
        say(f"\nWritten: {', '.join(str(path) for path in outputs.values())}")
    return 0
