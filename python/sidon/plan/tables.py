"""A plan as tables: columns, data frame, CSV, JSON text, plain summary and HTML."""

from __future__ import annotations

import csv
import html
import importlib
import io
import json
import textwrap
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sidon.plan.document import PlanDocument
from sidon.plan.hertz import mhz_text

__all__ = ["columns", "csv_text", "frame", "html_text", "json_text", "refusals", "summary"]

_NAMES = 6


def columns(document: PlanDocument) -> dict[str, NDArray[Any]]:
    """Return the assignments as columns.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    dict of str to numpy.ndarray
        Equal lengths, in the order of the plan.
    """
    rows = document.assignments
    return {
        "link": np.array([row.link for row in rows], dtype=np.str_),
        "zone": np.array([row.zone for row in rows], dtype=np.str_),
        "profile": np.array([row.profile for row in rows], dtype=np.str_),
        "frequency_hz": np.array([row.frequency_hz for row in rows], dtype=np.int64),
        "spare": np.array([row.spare for row in rows], dtype=np.bool_),
        "locked": np.array([row.locked for row in rows], dtype=np.bool_),
        "windows": np.array(["; ".join(row.windows) for row in rows], dtype=np.str_),
    }


def frame(table: dict[str, NDArray[Any]]) -> Any:  # noqa: ANN401 - whichever library is there
    """Put columns into a data frame.

    Parameters
    ----------
    table : dict of str to numpy.ndarray
        Columns of equal length.

    Returns
    -------
    pandas.DataFrame or polars.DataFrame
        pandas when it is installed, else polars.

    Raises
    ------
    ImportError
        When neither is installed.
    """
    for library in ("pandas", "polars"):
        try:
            module = importlib.import_module(library)
        except ImportError:
            continue
        return module.DataFrame(
            {
                name: list(column) if column.dtype.kind == "U" else column
                for name, column in table.items()
            }
        )
    what = "a data frame needs pandas or polars; install one of them, or use columns()"
    raise ImportError(what)


def csv_text(document: PlanDocument) -> str:
    """Write the assignments as CSV, frequencies in MHz.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    str
        A header and one line per assignment.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["link", "zone", "profile", "frequency_mhz", "spare", "locked", "windows"])
    for row in document.assignments:
        flags = ("yes" if flag else "no" for flag in (row.spare, row.locked))
        place = (row.link, row.zone, row.profile, mhz_text(row.frequency_hz))
        writer.writerow([*place, *flags, "; ".join(row.windows)])
    return text.getvalue()


def json_text(fields: dict[str, Any]) -> str:
    """Write plain data as JSON that a person can read and a tool can compare line by line.

    Parameters
    ----------
    fields : dict
        Plain data.

    Returns
    -------
    str
        One line per table row, other parts indented.
    """
    parts = []
    for key, value in fields.items():
        if isinstance(value, list) and value:
            rows = ",\n".join("    " + json.dumps(row, ensure_ascii=False) for row in value)
            text = f"[\n{rows}\n  ]"
        elif isinstance(value, dict) and value:
            rows = ",\n".join(
                f"    {json.dumps(name, ensure_ascii=False)}: {json.dumps(row, ensure_ascii=False)}"
                for name, row in value.items()
            )
            text = f"{{\n{rows}\n  }}"
        else:
            text = json.dumps(value, ensure_ascii=False)
        parts.append(f"  {json.dumps(key)}: {text}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def summary(document: PlanDocument) -> str:
    """Summarise a plan in plain text.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    str
        Served and refused by zone and profile, reasons, and cautions.
    """
    lines = [f"Plan: {document.study or 'without a name'}"]
    if document.place:
        lines.append(f"Place: {document.place.name}")
    lines += ["", *_served_table(document), "", _totals(document)]
    if document.refused:
        lines += ["", "Refused:"]
        for names, reason in refusals(document):
            lines += textwrap.wrap(
                f"{names}: {reason}", 88, initial_indent="  ", subsequent_indent="    "
            )
    if document.search:
        search = document.search
        limits = [f"{search.iterations:,} iterations"] if search.iterations else []
        limits += [f"{search.seconds:g} s"] if search.seconds else []
        limit = " or ".join(limits) or "none"
        lines.append(
            f"Search: {search.method}, seed {document.seed}, limit {limit}, "
            f"ended: {search.stop_reason}"
        )
    if document.caution:
        lines += ["", "Mind:"]
        for line in document.caution:
            lines += textwrap.wrap(line, 88, initial_indent="  - ", subsequent_indent="    ")
    return "\n".join(lines)


def refusals(document: PlanDocument) -> list[tuple[str, str]]:
    """Group refused links by their reason.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of (str, str)
        Names of links, at most six and how many more, and their common reason.
    """
    groups: dict[str, list[str]] = {}
    for row in document.refused:
        groups.setdefault(row.reason, []).append(row.link + (" (spare)" if row.spare else ""))
    return [
        (
            ", ".join(names[:_NAMES])
            + (f" and {len(names) - _NAMES} more" * (len(names) > _NAMES)),
            why,
        )
        for why, names in groups.items()
    ]


def _counts(document: PlanDocument) -> dict[tuple[str, str], list[int]]:
    """Count served and asked, required and spare, by zone and profile."""
    counts: dict[tuple[str, str], list[int]] = {}
    for row in document.assignments:
        cell = counts.setdefault((row.zone, row.profile), [0, 0, 0, 0])
        cell[2 * row.spare] += 1
        cell[2 * row.spare + 1] += 1
    for lost in document.refused:
        cell = counts.setdefault((lost.zone, lost.profile), [0, 0, 0, 0])
        cell[2 * lost.spare + 1] += 1
    order = {name: index for index, name in enumerate(document.zones)}
    return dict(sorted(counts.items(), key=lambda item: order.get(item[0][0], len(order))))


def _served_table(document: PlanDocument) -> list[str]:
    rows = [("zone", "profile", "served", "spares")]
    for (zone, profile), (served, asked, spares, wanted) in _counts(document).items():
        rows.append((zone, profile, f"{served} of {asked}", f"{spares} of {wanted}"))
    widths = [max(len(row[i]) for row in rows) for i in range(4)]
    return [
        f"  {row[0]:<{widths[0]}}  {row[1]:<{widths[1]}}  {row[2]:>{widths[2]}}  "
        f"{row[3]:>{widths[3]}}"
        for row in rows
    ]


def _totals(document: PlanDocument) -> str:
    total = np.sum([[0] * 4, *_counts(document).values()], axis=0)
    text = f"Served {total[0]} of {total[1]} required links and {total[2]} of {total[3]} spares"
    foreign = len(document.incumbents)
    noun = "carrier" if foreign == 1 else "carriers"
    kept = f", clear of {foreign} foreign {noun}" if foreign else ""
    return f"{text}{kept}; {len(document.refused)} refused."


def html_text(document: PlanDocument) -> str:
    """Write a plan as an HTML table for a notebook.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    str
        Assignments, totals and refusals; every text is escaped.
    """
    head = "".join(f"<th>{name}</th>" for name in ("link", "zone", "profile", "MHz", "spare"))
    body = "".join(
        "<tr>"
        + "".join(
            f"<td>{html.escape(cell)}</td>"
            for cell in (
                row.link,
                row.zone,
                row.profile,
                mhz_text(row.frequency_hz),
                "spare" if row.spare else "",
            )
        )
        + "</tr>"
        for row in document.assignments
    )
    lost = "".join(
        f"<li>{html.escape(names)}: {html.escape(why)}</li>" for names, why in refusals(document)
    )
    refused = f"<p>Refused:</p><ul>{lost}</ul>" if lost else ""
    caption = html.escape(f"{document.study or 'Plan'}. {_totals(document)}")
    return f"<table><caption>{caption}</caption><tr>{head}</tr>{body}</table>{refused}"
