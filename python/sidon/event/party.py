"""One sheet per party: its links, their frequencies and times, and what became of its wishes."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from sidon._cells import harmless
from sidon._files import what_else, write_text
from sidon.event.requests.outcome import Outcome, outcome
from sidon.exceptions import PlanError
from sidon.plan.caution import cautions
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.plan import Plan
    from sidon.plan.document import PlanDocument

__all__ = [
    "file_names",
    "nobody",
    "party_csv",
    "party_text",
    "sheet_paths",
    "sheets",
    "write_sheets",
]

_COLUMNS = (
    "link",
    "zone",
    "profile",
    "frequency_mhz",
    "wanted_mhz",
    "outcome",
    "spare",
    "windows",
    "reason",
)

# Names that some systems keep for devices, whatever their ending.
_DEVICES = frozenset({"con", "prn", "aux", "nul"}) | {
    f"{port}{n}" for port in ("com", "lpt") for n in range(10)
}
_LONGEST = 60
_NOBODY = "Links without a party"


def sheets(plan: Plan) -> dict[str, list[Outcome]]:
    """Sort what was asked for by party.

    Parameters
    ----------
    plan : Plan
        The plan; nothing else is read.

    Returns
    -------
    dict of str to list of Outcome
        Parties in the order of the plan; last, under `nobody`, the links that belong to none, so
        that every link of the plan is on a sheet. Empty when no link belongs to a party.
    """
    found: dict[str, list[Outcome]] = {}
    rest = []
    for row in outcome(plan):
        if row.party:
            found.setdefault(row.party, []).append(row)
        else:
            rest.append(row)
    if found and rest:
        found[nobody(found)] = rest
    return found


def nobody(parties: Iterable[str]) -> str:
    """Name the sheet of the links that belong to no party, unlike any party.

    Parameters
    ----------
    parties : iterable of str
        Their names.

    Returns
    -------
    str
        "Links without a party", with a number where a party is called so.
    """
    taken = {party.casefold() for party in parties}
    name, number = _NOBODY, 1
    while name.casefold() in taken:
        number += 1
        name = f"{_NOBODY} ({number})"
    return name


def file_names(parties: Iterable[str]) -> dict[str, str]:
    """Make a file name of each party: safe on every system, and no two alike.

    Parameters
    ----------
    parties : iterable of str
        Names as written.

    Returns
    -------
    dict of str to str
        Names without an ending: letters, digits and hyphens, at most sixty characters; numbered
        where two would differ in nothing but case or what was left out.

    Examples
    --------
    >>> file_names(["Band A / B", "band a b", "../x", "CON"])
    {'Band A / B': 'Band-A-B', 'band a b': 'band-a-b-2', '../x': 'x', 'CON': 'CON-1'}
    """
    taken: set[str] = set()
    names = {}
    for party in dict.fromkeys(parties):
        plain = unicodedata.normalize("NFKC", party)
        stem = re.sub(r"[^\w]+|_+", "-", plain)[:_LONGEST].strip("-") or "party"
        name, number = stem, 1
        if stem.lower() in _DEVICES:
            name = f"{stem}-{number}"
        while name.casefold() in taken:
            number += 1
            name = f"{stem}-{number}"
        taken.add(name.casefold())
        names[party] = name
    return names


def party_csv(rows: Iterable[Outcome]) -> str:
    """Write the links of a party as CSV, frequencies in MHz.

    Parameters
    ----------
    rows : iterable of Outcome
        Its links.

    Returns
    -------
    str
        A header and a line per link.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for row in rows:
        cells = (
            row.link,
            row.zone,
            row.profile,
            _mhz(row.frequency_hz),
            _mhz(row.wanted_hz),
            row.outcome,
            "yes" if row.spare else "no",
            "; ".join(row.windows),
            row.reason,
        )
        writer.writerow([harmless(cell) for cell in cells])
    return text.getvalue()


def _mhz(hz: int | None) -> str:
    return "" if hz is None else mhz_text(hz)


def party_text(document: PlanDocument, party: str, rows: list[Outcome]) -> str:
    """Write the sheet of a party as plain text.

    Parameters
    ----------
    document : PlanDocument
        The plan it is part of.
    party : str
        The party.
    rows : list of Outcome
        Its links.

    Returns
    -------
    str
        Links with frequency, place and times; wishes that were not granted, and why; cautions.
    """
    place = f", {document.place.name}" if document.place else ""
    lines = [party, f"{document.study or 'Plan'}{place}", ""]
    table = [("link", "MHz", "zone", "when", "profile", "")]
    for row in rows:
        when = ", ".join(row.windows) or "always"
        marks = " ".join(["spare"] * row.spare + [row.outcome] * (row.outcome != "served"))
        table.append((row.link, _mhz(row.frequency_hz) or "-", row.zone, when, row.profile, marks))
    widths = [max(len(cells[i]) for cells in table) for i in range(6)]
    for cells in table:
        padded = [cell.ljust(width) for cell, width in zip(cells, widths, strict=True)]
        padded[1] = cells[1].rjust(widths[1])
        lines.append("  ".join(padded).rstrip())
    used = {name for row in rows for name in row.windows}
    if used:
        where = f" ({document.timezone})" if document.timezone else ""
        lines += ["", f"Times on the air, local{where}:"]
        lines += [
            f"  {w.name}: {w.start:%Y-%m-%d %H:%M} to {w.end:%Y-%m-%d %H:%M}"
            + (f", a margin of {w.margin_min} min on both sides included" if w.margin_min else "")
            for w in document.windows
            if w.name in used
        ]
    told = [row for row in rows if row.reason]
    if told:
        lines += ["", "Notes:"]
        lines += [f"  {row.link} ({row.outcome}): {row.reason}" for row in told]
    profiles = {row.profile for row in rows}
    kinds = [f"{p.name} {p.kind}" for p in document.profiles if p.name in profiles]
    lines += ["", "Mind:", *(f"  - {line}" for line in cautions(kinds))]
    return "\n".join(lines) + "\n"


def write_sheets(plan: Plan, folder: str | Path) -> list[Path]:
    """Write a text and a CSV file for each party, each whole or not at all.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : str or Path
        Where to; made if it is not there. Files of the same names are replaced.

    Returns
    -------
    list of Path
        What was written; empty when no link belongs to a party.

    Raises
    ------
    PlanError
        When something that is no directory stands there, or no regular file at one of the names.
    OSError
        When it cannot be written.
    """
    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        what = f"{folder} is {what_else(folder) or 'a file'}; name a directory, or a new one"
        raise PlanError(what)
    parties = sheets(plan)
    if parties:
        folder.mkdir(parents=True, exist_ok=True)
    paths = sheet_paths(parties, folder)
    for party, rows in parties.items():
        text, table = paths[party]
        write_text(text, party_text(plan.document, party, rows))
        write_text(table, party_csv(rows))
    return [path for pair in paths.values() for path in pair]


def sheet_paths(parties: Iterable[str], folder: Path) -> dict[str, tuple[Path, Path]]:
    """Say where the sheets of parties are written.

    Parameters
    ----------
    parties : iterable of str
        Names as written.
    folder : Path
        Where to.

    Returns
    -------
    dict of str to (Path, Path)
        The text and the CSV file of each.
    """
    names = file_names(parties)
    return {p: (folder / f"{n}.txt", folder / f"{n}.csv") for p, n in names.items()}
