"""A plan as tables: columns, data frame, CSV, JSON text and HTML."""

from __future__ import annotations

import csv
import html
import io
import json
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sidon._cells import harmless
from sidon.plan.document import AssignmentRecord, PlanDocument, RefusedRecord
from sidon.plan.summary import refusals, totals
from sidon.units import mhz_text

__all__ = ["columns", "csv_text", "html_text", "json_text"]

_COLUMNS = (
    "link",
    "zone",
    "profile",
    "frequency_mhz",
    "spare",
    "locked",
    "windows",
    "refused",
    "party",
    "wanted_mhz",
)


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


def csv_text(document: PlanDocument) -> str:
    """Write all links as CSV, frequencies in MHz.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    str
        A header and one line per link, by zone in the order of the plan, then by frequency; links
        that were refused follow those of their zone, without a frequency. Who asked for a link and
        the frequency it wanted stand last, empty where nobody did.
    """
    order = {name: index for index, name in enumerate(document.zones)}

    def place(row: AssignmentRecord | RefusedRecord) -> tuple[int, float]:
        hertz = row.frequency_hz if isinstance(row, AssignmentRecord) else math.inf
        return order.get(row.zone, len(order)), hertz

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    rows: list[AssignmentRecord | RefusedRecord] = [*document.assignments, *document.refused]
    for row in sorted(rows, key=place):
        served = isinstance(row, AssignmentRecord)
        hertz = mhz_text(row.frequency_hz) if isinstance(row, AssignmentRecord) else ""
        spare, locked, refused = (
            "yes" if flag else "no" for flag in (row.spare, row.locked, not served)
        )
        windows, party = "; ".join(row.windows), row.party or ""
        wanted = "" if row.wanted_hz is None else mhz_text(row.wanted_hz)
        cells = [row.link, row.zone, row.profile, hertz, spare, locked, windows, refused]
        # What came later stands last, so that readers by position keep working.
        writer.writerow([harmless(cell) for cell in (*cells, party, wanted)])
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
        f"<li>{html.escape(', '.join(names))}: {html.escape(why)}</li>"
        for names, why in refusals(document)
    )
    refused = f"<p>Refused:</p><ul>{lost}</ul>" if lost else ""
    caption = html.escape(f"{document.study or 'Plan'}. {totals(document)}")
    return f"<table><caption>{caption}</caption><tr>{head}</tr>{body}</table>{refused}"
