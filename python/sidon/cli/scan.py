"""The command `sidon scan`: what sweeps of the air show, in words, as a table and as a picture."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sidon._files import write_text
from sidon.cli.arguments import Report, file_fault, output_faults, read_study
from sidon.cli.say import say
from sidon.exceptions import Fault, InvalidProblemError, UnreadableError
from sidon.spectrum.scan import MergedScan, Scan
from sidon.spectrum.scan.cells import Span
from sidon.spectrum.scan.compare import filled
from sidon.spectrum.scan.heard import Heard
from sidon.spectrum.scan.options import follows_from, sound_options
from sidon.spectrum.scan.planning import CLEAR_HZ, ScanExclusion, exclusions_text
from sidon.spectrum.scan.rule import Threshold, rule
from sidon.study import Study
from sidon.study.scan_tv import unlisted_reason
from sidon.study.scans import tuned

__all__ = ["add_arguments", "run"]

_TEXTS = {
    "frequency": ("COLUMN", "column of frequencies, by name or by number from 1"),
    "sweep": ("COLUMN", "column that tells sweeps apart"),
    "frequency_unit": ("UNIT", "Hz, kHz, MHz or GHz (default: as the header says, else by size)"),
    "level_unit": ("UNIT", "dBm, dBuV (over 50 ohm) or dBm/Hz (default: as the header says)"),
    "delimiter": ("CHAR", "what parts cells; a blank for any white space (default: found out)"),
    "decimal": ("CHAR", "decimal mark, . or , (default: found out)"),
    "resolution_bandwidth": ("WIDTH", "of the receiver, such as '10 kHz'"),
    "taken": ("DATE", "when, such as 2031-05-01"),
    "spot": ("TEXT", "where, in words"),
    "antenna": ("TEXT", "with which antenna, in words"),
    "averaged_in": ("KIND", "power or decibels: how those readings were averaged (default power)"),
    "bridge": ("WIDTH", "occupied parts with less between them are one (default 100 kHz)"),
    "window": ("WIDTH", "over which the floor is followed (default 30 MHz)"),
}
_NUMBERS: dict[str, tuple[type, str, str]] = {
    "averages": (int, "N", "independent readings averaged into each level (default 1)"),
    "held": (int, "N", "of a file that is max hold itself: sweeps it held (default 1)"),
    "above_db": (float, "DB", "least distance of the threshold above the floor (default 5)"),
    "threshold_dbm": (float, "DBM", "one threshold for all instead"),
    "false_hits": (float, "N", "points that noise alone may lift above it (default 1)"),
    "limit_dbm": (
        float,
        "DBM",
        "compare the power over each TV channel of the study with this, such as -84",
    ),
}
_NAMED = r"\b(frequency_unit|level_unit|frequency|level)=(?:'([^']*)')?"
_EXITS = """\
exit codes:
  0    the scans were read, and what was asked for is written: what they show is said, not judged
  2    bad input: all faults are listed on standard error, and nothing is written
"""
_OF_THRESHOLD = ("above_db", "threshold_dbm", "false_hits", "bridge", "window")
_OF_READING = (
    *("frequency", "sweep", "frequency_unit", "level_unit", "delimiter", "decimal"),
    *("resolution_bandwidth", "taken", "spot", "antenna", "averages", "averaged_in", "held"),
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.epilog = _EXITS
    parser.add_argument(
        "scans",
        type=Path,
        nargs="+",
        metavar="FILE",
        help="sweeps as delimited text; several files are merged, each with its own floor",
    )
    parser.add_argument(
        "--study",
        type=Path,
        metavar="STUDY",
        help="say what of its ranges is covered, and how its TV channels compare",
    )
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write the traces as CSV")
    parser.add_argument("--picture", type=Path, metavar="FILE", help="draw it: png, pdf or svg")
    parser.add_argument(
        "--exclusions", type=Path, metavar="FILE", help="write what is occupied as TOML for a study"
    )
    parser.add_argument(
        "--level",
        action="append",
        metavar="COLUMN",
        help="column of levels; given several times, one sweep each",
    )
    # Numbers are read later, so that a bad one is reported together with all other faults.
    options = {**_TEXTS, **{name: (mark, text) for name, (_, mark, text) in _NUMBERS.items()}}
    for name, (mark, text) in options.items():
        parser.add_argument(f"--{name.replace('_', '-')}", metavar=mark, help=text)


def run(arguments: argparse.Namespace) -> int:
    """Read the scans, say what they show, and write what was asked for.

    Parameters
    ----------
    arguments : argparse.Namespace
        As declared.

    Returns
    -------
    int
        0; bad input raises.
    """
    report = Report([])
    numbers = _numbers(arguments, report)
    given = {
        name: value for name in _TEXTS if (value := getattr(arguments, name)) is not None
    } | numbers
    named = {name: getattr(arguments, name) for name in ("csv", "picture", "exclusions")}
    outputs = {f"--{name}": path for name, path in named.items() if path is not None}
    inputs = {str(path): path for path in arguments.scans}
    if arguments.study is not None:
        inputs["the study"] = arguments.study
    report.faults += output_faults(inputs, outputs)
    by = _threshold(given, report)
    study = None if arguments.study is None else read_study(arguments.study, report)
    reading, faults = sound_options({name: given[name] for name in _OF_READING if name in given})
    report.faults += [_option(fault) for fault in faults]
    bad = {fault.place for fault in faults}
    scans = [
        scan
        for path in arguments.scans
        if (scan := _read(path, arguments.level, reading, bad, report)) is not None
    ]
    channels, listed, ranges = _asked(study)
    limit = numbers.get("limit_dbm")
    if limit is not None and arguments.study is not None and study is not None and not channels:
        what = "the study has no TV channels to compare with the limit"
        report.faults.append(Fault("--limit-dbm", what, "add tv_raster to its availability"))
    if limit is not None and arguments.study is None:
        what = "there is no raster of TV channels without a study"
        report.faults.append(Fault("--limit-dbm", what, "name one with --study"))
    report.raise_if_any()
    heard: Heard = scans[0] if len(scans) == 1 else MergedScan(tuple(scans))
    summary = heard.summary(ranges=ranges, channels=channels, listed=listed, limit_dbm=limit, **by)
    say(_on_command_line(summary))
    for name, path in outputs.items():
        if name == "--csv":
            heard.to_csv(path, **by)
        elif name == "--picture":
            # Drawing takes long to load, and is seldom asked for.
            from sidon.view.scan import save_scan

            save_scan(heard, path, channels=channels, listed=listed, threshold=by)
        else:
            rows = heard.exclusions(clear=CLEAR_HZ, **by)
            if study is not None and channels:
                rows += _unlisted(heard, study, channels, listed, by)
            write_text(path, exclusions_text(rows))
    if outputs:
        say(f"Written: {', '.join(str(path) for path in outputs.values())}")
    return 0


def _numbers(arguments: argparse.Namespace, report: Report) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, (kind, _, _) in _NUMBERS.items():
        text: str | None = getattr(arguments, name)
        if text is None:
            continue
        try:
            found[name] = kind(text)
        except ValueError:
            noun = "a whole number" if kind is int else "a number"
            what = f"{text!r} is not {noun}"
            option = f"--{name.replace('_', '-')}"
            report.faults.append(Fault(option, what, f"write {noun}, in digits"))
    return found


def _threshold(given: dict[str, Any], report: Report) -> Threshold:
    options: Any = {name: given[name] for name in _OF_THRESHOLD if name in given}
    try:
        rule(options)
    except InvalidProblemError as error:
        report.faults += [_option(fault) for fault in error.faults]
    found: Threshold = options
    return found


def _read(
    path: Path,
    level: Sequence[str] | None,
    reading: dict[str, Any],
    bad: set[str],
    report: Report,
) -> Scan | None:
    try:
        return Scan.from_file(path, level=level, **reading)
    except InvalidProblemError as error:
        own = [_option(fault) for fault in error.faults if not follows_from(fault, bad)]
        report.faults += [fault for fault in own if fault not in report.faults]
    except UnreadableError as error:
        report.faults.append(Fault(error.what, error.why, error.remedy))
    except OSError as error:
        report.faults.append(file_fault(path, error))
    return None


def _option(fault: Fault) -> Fault:
    """Name an option as the command line does."""
    place, what, remedy = fault.place, fault.what, fault.remedy
    if place in (*_OF_READING, *_OF_THRESHOLD, "level"):
        place = f"--{place.replace('_', '-')}"
    return Fault(place, _on_command_line(what), _on_command_line(remedy))


def _on_command_line(text: str) -> str:
    """Write ``level_unit='dBuV'`` as ``--level-unit dBuV``, and ``level=`` as ``--level``."""

    def option(match: re.Match[str]) -> str:
        name = f"--{match[1].replace('_', '-')}"
        return f"{name} {match[2]}" if match[2] else name

    return re.sub(_NAMED, option, text)


def _unlisted(
    heard: Heard, study: Study, channels: dict[Any, Span], listed: list[Any], by: Threshold
) -> list[ScanExclusion]:
    """Whole channels with their guard that are filled and not listed, as a study excludes them."""
    guard = study.model.availability.edge_guard
    seen = [(row.low_hz, row.high_hz) for row in heard.occupied(**by)]
    return [
        ScanExclusion(max(1, low - guard), high + guard, unlisted_reason(name), None)
        for name, (low, high) in channels.items()
        if name not in listed and filled(seen, heard.spans, (low, high))
    ]


def _asked(
    study: Study | None,
) -> tuple[dict[Any, Span] | None, list[Any], list[Span] | None]:
    """TV channels, those listed as occupied, and ranges of a study that can be tuned."""
    if study is None:
        return None, [], None
    availability = study.model.availability
    ranges = tuned(availability.ranges, study.model.profiles)
    raster = availability.tv_raster
    if availability.region is not None:
        entries = [entry for entry in study.place_report().entries if entry.channel]
        edges = {entry.channel: (entry.low_hz, entry.high_hz) for entry in entries}
        blocked = [entry.channel for entry in entries if entry.status == "blocked"]
        return edges, blocked, ranges
    if raster is None:
        return None, [], ranges
    numbers = range(raster.first_number, raster.last_number + 1)
    channels = {number: raster.channel(number) for number in numbers}
    return channels, list(availability.occupied), ranges
