"""The command `sidon repair`: what to retune after a change, ready to be read over a radio."""

from __future__ import annotations

import argparse
import ast
import re
import shlex
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sidon import event
from sidon._files import write_text
from sidon.cli.arguments import Report, output_faults, read_plan, read_search
from sidon.cli.say import complain, say
from sidon.event.changes import Change
from sidon.event.repair import look_at
from sidon.exceptions import Fault, InvalidProblemError
from sidon.plan import Plan
from sidon.plan.caution import before_retuning

__all__ = ["add_arguments", "run"]

_CHANGES = {
    "--block": (
        "LOW-HIGH",
        "a range comes on the air, MHz: 518-526; carriers keep half their bandwidth and the edge "
        "guard of the plan, if it has one, outside",
    ),
    "--channel": ("N", "a TV channel comes on the air"),
    "--hit": ("LINK", "a link is interfered with; nobody may use its frequency there"),
    "--hit-alone": ("LINK", "likewise, but only that link avoids it"),
    "--add": (
        "PROFILE:ZONE:COUNT[:WINDOW,...][:KEY=VALUE...]",
        "links arrive; keys are name (they are called NAME-1 and on), priority and party",
    ),
    "--drop": ("LINK", "a link leaves"),
    "--unlock": ("LINK", "a locked link may move"),
    "--swap": ("LINK:PROFILE", "a link gets other equipment"),
    "--foreign": ("NAME:MHZ:ZONE:PROFILE", "a foreign carrier appears, like a profile"),
    "--rules": (
        "PROFILE:KEY=DISTANCE[:...]",
        "a profile has other rules: hand:separation=0.4:2A-B=0.1",
    ),
}


class _Noted(argparse.Action):
    """Keeps changes in the order in which they are given."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: str | Sequence[Any] | None,
        option_string: str | None = None,
    ) -> None:
        noted = [*(namespace.changes or []), (option_string, str(values))]
        namespace.changes = noted


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument("plan", type=Path, metavar="PLAN", help="plan.json, the plan on the air")
    parser.add_argument("--out", type=Path, metavar="FILE", help="the repaired plan.json to write")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="also write the call list as CSV")
    for option, (shape, purpose) in _CHANGES.items():
        parser.add_argument(option, action=_Noted, dest="changes", metavar=shape, help=purpose)
    parser.add_argument(
        "--at",
        metavar="TIME",
        help="local time, such as 2031-06-14T20:30: who is on the air now; 20:30 alone where the "
        "windows of the plan tell the day",
    )
    parser.add_argument(
        "--on-air", action="append", metavar="LINK", help="a link on the air now, instead of --at"
    )
    parser.add_argument(
        "--what-if", action="store_true", help="only tell what would break; nobody moves"
    )
    parser.add_argument(
        "--retry-refused",
        action="store_true",
        help="retune others, too, for links that were refused before; without, those get a "
        "carrier where one is clear",
    )
    parser.add_argument(
        "--all-refusals", action="store_true", help="list every refused link, however many"
    )
    parser.add_argument(
        "--compare", action="store_true", help="also tell what a plan made anew would retune"
    )
    parser.add_argument("--seed", default="0", metavar="N", help="random seed (default 0)")
    parser.add_argument("--seconds", metavar="S", help="time limit (default 5 seconds)")
    parser.set_defaults(run=run, changes=None, iterations=None, threads=None, usual_iterations=None)


def run(arguments: argparse.Namespace) -> int:
    """Repair a plan after changes.

    Parameters
    ----------
    arguments : argparse.Namespace
        As declared.

    Returns
    -------
    int
        0 when every required link has a carrier (with ``--what-if``: when nothing would break).
    """
    report = Report([])
    search = read_search(arguments, report)
    noted: list[tuple[str, str]] = arguments.changes or []
    read = [(option, text, _read(option, text, report)) for option, text in noted]
    changes = [change for _, _, change in read if change is not None]
    # Places of faults count only what could be read.
    sources = [(option, text) for option, text, change in read if change is not None]
    report.further = len(changes) < len(noted)
    if not noted and not arguments.retry_refused:
        report.faults.append(Fault("changes", "nothing has changed", "give --hit, --block, ..."))
    if arguments.out is None and not arguments.what_if:
        remedy = "name the file to write, or give --what-if"
        report.faults.append(Fault("--out", "it is missing", remedy))
    if arguments.what_if and arguments.csv is not None:
        what = "with --what-if nobody is called"
        report.faults.append(Fault("--csv", what, "leave one of them out"))
    named = {"--out": arguments.out, "--csv": arguments.csv}
    outputs = {name: path for name, path in named.items() if path is not None}
    report.faults += output_faults({"the plan": arguments.plan}, outputs)
    if arguments.at is not None and arguments.on_air:
        report.faults.append(Fault("--at", "--on-air is given too", "keep one of them"))
    plan = read_plan(arguments.plan, report)
    if plan is not None:
        # Unsound changes are told together with everything else.
        options = {"on_air": arguments.on_air or arguments.at, "seed": search["seed"]}
        options["seconds"] = search["seconds"]
        answer = _what_if if arguments.what_if else _repair
        try:
            if report.faults:
                look_at(plan.document, changes, options["on_air"], locks_hold=not arguments.what_if)
            else:
                return answer(plan, changes, options, arguments)
        except InvalidProblemError as error:
            report.faults += [_placed(fault, sources) for fault in error.faults]
    report.raise_if_any()
    return 2


def _what_if(
    plan: Plan, changes: list[Change], options: dict[str, Any], _arguments: argparse.Namespace
) -> int:
    found = plan.what_if(*changes, **options)
    say(found.summary())
    return 0 if found.harmless else 1


def _repair(
    plan: Plan, changes: list[Change], options: dict[str, Any], arguments: argparse.Namespace
) -> int:
    repair = plan.repair(
        *changes, compare=arguments.compare, retry_refused=arguments.retry_refused, **options
    )
    written = str(arguments.out)
    repair.plan.to_json(arguments.out)
    if arguments.csv is not None:
        write_text(arguments.csv, repair.calls_csv())
        written += f", {arguments.csv}"
    say(repair.summary(all_refusals=arguments.all_refusals))
    say("")
    say("Check: recounted from the repaired plan alone, no rule broken.")
    missing = repair.plan.missing
    if missing:
        one = len(missing) == 1
        links = "1 required link has" if one else f"{len(missing)} required links have"
        say(f"{links} no carrier (exit code 1).")
        waiting = set(missing) - {row.link for row in repair.refused}
        if waiting and not arguments.retry_refused:
            say("With --retry-refused others are retuned for links that were refused before.")
    say(f"Written: {written}")
    moved = {call.link for call in repair.calls}
    profiles = {row.profile for row in repair.plan.assignments if row.link in moved}
    known = repair.plan.document.profiles
    say("\n".join(before_retuning(f"{p.name} {p.kind}" for p in known if p.name in profiles)))
    if repair.plan.stop_reason == "interrupted":
        complain("stopped by Ctrl-C; what is written is the best repair so far")
        return 130
    return 0 if repair.plan.complete else 1


def _placed(fault: Fault, noted: list[tuple[str, str]]) -> Fault:
    """Move a fault of the changes to the option it comes from."""

    def moved(match: re.Match[str]) -> str:
        option, text = noted[int(match[1])]
        return f"{option} {text}"

    place = re.sub(r"^changes\[(\d+)\].*", moved, fault.place)
    remedy = _CALL.sub(_as_option, fault.remedy)
    remedy = remedy.replace("Block(low, high)", "--block LOW-HIGH")
    return Fault({"on_air": "--on-air or --at"}.get(place, place), fault.what, remedy)


_CALL = re.compile(r"(Unlock|Leave)\(('(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")\)")


def _as_option(match: re.Match[str]) -> str:
    option = {"Unlock": "--unlock", "Leave": "--drop"}[match[1]]
    return f"{option} {shlex.quote(ast.literal_eval(match[2]))}"


def _read(option: str, text: str, report: Report) -> Change | None:
    change = _READERS[option](text)
    if change is None:
        shape = _CHANGES[option][0]
        report.faults.append(Fault(f"{option} {text}", "it cannot be read", f"write {shape}"))
    return change


def _block(text: str) -> Change | None:
    edges = [edge.strip() for edge in re.split(r"\s*[-\u2013]\s*", text.strip())]
    return event.Block(edges[0], edges[1]) if len(edges) == 2 and all(edges) else None


def _channel(text: str) -> Change | None:
    return event.Channel(int(text)) if text.isdecimal() and len(text) < 5 else None


def _add(text: str) -> Change | None:
    parts = text.split(":")
    settings: dict[str, str] = {}
    while len(parts) > 3 and parts[-1].partition("=")[0] in {"name", "priority", "party"}:
        key, mark, value = parts.pop().partition("=")
        if not (mark and value.strip()) or key in settings:
            return None
        settings[key] = value.strip()
    if len(parts) not in (3, 4) or not _digits(parts[2], settings.get("priority", "1")):
        return None
    return event.Arrive(
        parts[0],
        parts[1],
        int(parts[2]),
        windows=[name.strip() for name in parts[3].split(",")] if len(parts) == 4 else [],
        priority=int(settings.get("priority", "1")),
        name=settings.get("name"),
        party=settings.get("party"),
    )


def _digits(*texts: str) -> bool:
    return all(text.isdecimal() and len(text) <= 6 for text in texts)


def _swap(text: str) -> Change | None:
    link, colon, profile = text.rpartition(":")
    return event.Swap(link, profile) if colon else None


def _foreign(text: str) -> Change | None:
    parts = text.split(":")
    return event.Foreign(*parts) if len(parts) == 4 else None


def _rules(text: str) -> Change | None:
    profile, *settings = text.split(":")
    pairs = [setting.partition("=") for setting in settings]
    if not pairs or not all(mark and value for _, mark, value in pairs):
        return None
    values = {key.strip(): value.strip() for key, _, value in pairs}
    separation = values.pop("separation", None)
    return event.Rules(profile, separation=separation, guards=values or None)


_READERS: dict[str, Callable[[str], Change | None]] = {
    "--block": _block,
    "--channel": _channel,
    "--hit": event.Hit,
    "--hit-alone": lambda link: event.Hit(link, everyone=False),
    "--add": _add,
    "--drop": event.Leave,
    "--unlock": event.Unlock,
    "--swap": _swap,
    "--foreign": _foreign,
    "--rules": _rules,
}
