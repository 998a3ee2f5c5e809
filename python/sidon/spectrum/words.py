"""The report on a place in words: the table, its cautions, and CSV."""

from __future__ import annotations

import csv
import html
import io
import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sidon._cells import harmless
from sidon.spectrum.status import allowed
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.spectrum.report import PlaceReport
    from sidon.spectrum.status import Entry

__all__ = ["csv_text", "html_text", "summary"]

_WIDTH = 100
_NO_LEVEL = -150.0
_NO_FIELD = -20.0
"""Below, in dBm and dBuV/m, a level or field is nothing that could be measured."""
_UNITS = "field and limit in dBuV/m; margin in km outside (+) or inside (-) the contour"


def summary(report: PlaceReport) -> str:
    """Write a report for people.

    Parameters
    ----------
    report : PlaceReport
        The report.

    Returns
    -------
    str
        Lines without the last line end.
    """
    head = _head(report)
    common = report.terms.source
    rows = [_cells(report, entry, common) for entry in report.entries if entry.channel]
    bands = _bands([entry for entry in report.entries if not entry.channel])
    at = f", at {report.where}" if report.where else ""
    lines = [f"{report.region.title}{at}", *_listed(report), ""]
    if rows:
        table = [head, *(cells for cells, _ in rows)]
        widths = [max(len(row[i]) for row in table) for i in range(len(head))]
        lines.append(_line(head, widths))
        for cells, reason in rows:
            lines.append(_line(cells, widths))
            lines += textwrap.wrap(reason, _WIDTH, initial_indent="    ", subsequent_indent="    ")
        lines += ["", _UNITS]
        lines += ["", "Rules in these channels:", *_rules(report)]
    if bands:
        lines += ["", "Other bands:", *(line for band in bands for line in band)]
    lines += ["", "Mind:"]
    for caution in report.cautions:
        lines += textwrap.wrap(caution, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    return "\n".join(lines)


def html_text(report: PlaceReport) -> str:
    """Write a report as an HTML table for a notebook.

    Parameters
    ----------
    report : PlaceReport
        The report.

    Returns
    -------
    str
        Every channel and band with what to mind; every text is escaped.
    """
    head = [*_head(report), "reason"]
    body = ""
    for entry in report.entries:
        cells, reason = _cells(report, entry, report.terms.source)
        cells[0] = cells[0] or entry.band
        body += _html_row("td", [*cells, reason])
    at = f", at {report.where}" if report.where else ""
    caption = html.escape(f"{report.region.title}{at}. {_UNITS}")
    mind = "".join(f"<li>{html.escape(caution)}</li>" for caution in report.cautions)
    titles = _html_row("th", head)
    return f"<table><caption>{caption}</caption>{titles}{body}</table><ul>{mind}</ul>"


def _html_row(tag: str, cells: Sequence[str]) -> str:
    return "<tr>" + "".join(f"<{tag}>{html.escape(cell)}</{tag}>" for cell in cells) + "</tr>"


def csv_text(report: PlaceReport) -> str:
    """Write a report as CSV.

    Parameters
    ----------
    report : PlaceReport
        The report.

    Returns
    -------
    str
        The columns of `PlaceReport.columns`, frequencies in MHz, figures to two decimals.
    """
    table = report.columns()
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    names = {"low_hz": "low_mhz", "high_hz": "high_mhz"}
    writer.writerow([names.get(name, name) for name in table])
    for row in table.rows():
        writer.writerow(
            [
                mhz_text(cell) if name in names else _cell(cell)
                for name, cell in zip(table, row, strict=True)
            ]
        )
    return text.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.2f}"
    return harmless(value) if isinstance(value, str) else value


def _short(hz: int) -> str:
    return f"{hz / 1e6:g}"


def _cells(report: PlaceReport, entry: Entry, common: str) -> tuple[list[str], str]:
    reach = entry.reach
    figures = ("", "", "", "")
    if reach is not None:
        on = "" if reach.channel.name == entry.channel else f" ({reach.channel.name})"
        figures = (
            f"{reach.station.label[:24]}{on}",
            "none" if reach.field_dbuv_m < _NO_FIELD else f"{reach.field_dbuv_m:.1f}",
            f"{reach.threshold_dbuv_m:.1f}",
            f"{reach.margin_km:+.1f}",
        )
    span = f"{_short(entry.low_hz)}-{_short(entry.high_hz)}"
    date = "" if entry.as_of is None else entry.as_of.isoformat()
    source = f" ({entry.source})" if entry.source not in ("", common) else ""
    cells = [entry.channel, span, entry.status, *figures, date]
    if _indoors(report):
        cells.append(_level(report, entry))
    return cells, f"{entry.reason}{source}"


def _indoors(report: PlaceReport) -> bool:
    return report.building is not None or bool(report.terms.measured_dbm)


def _head(report: PlaceReport) -> list[str]:
    head = ["channel", "MHz", "status", "station", "field", "limit", "margin", "date"]
    return [*head, "indoors"] if _indoors(report) else head


def _level(report: PlaceReport, entry: Entry) -> str:
    """Say what was measured indoors, or else what is estimated."""
    measured = report.measured_dbm(entry)
    if measured is not None:
        return f"{measured:g} dBm measured"
    level = None if entry.reach is None else report.indoor_dbm(entry.reach)
    return "" if level is None else "none" if level < _NO_LEVEL else f"{level:.0f} dBm"


def _bands(entries: Sequence[Entry]) -> list[list[str]]:
    """Say once what several pieces of a band share."""
    shared: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        shared.setdefault((entry.status, entry.reason), []).append(entry)
    found = []
    for (status, reason), alike in shared.items():
        spans = ", ".join(f"{_short(e.low_hz)}-{_short(e.high_hz)}" for e in alike)
        date = "" if alike[0].as_of is None else f", {alike[0].as_of}"
        text = f"{spans} MHz: {status}; {reason} ({alike[0].source}{date})"
        found.append(textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="    "))
    return found


def _rules(report: PlaceReport) -> list[str]:
    """Say under which rules TV channels may be used, and by whom."""
    spans = [(channel.low_hz, channel.high_hz) for channel in report.region.channels]
    lines = []
    for band in report.region.bands:
        if not any(a < high and low < b for a, b in band.ranges for low, high in spans):
            continue
        holds = "holds" if allowed(band, report.terms) else "needs a licence"
        if not report.terms.trusts(band.name, checked=band.checked):
            holds = "not checked"
        caution = f" {band.caution}" if band.caution else ""
        width = f", {_short(band.bandwidth)} MHz wide at most" if band.bandwidth else ""
        text = f"{holds}: {band.rule}{width}; {band.who} ({band.source}, {band.as_of}).{caution}"
        lines += textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="    ")
    return lines or ["  none that is known"]


def _listed(report: PlaceReport) -> list[str]:
    """Say where the list of TV channels comes from."""
    terms = report.terms
    if report.reaches is None and terms.occupied is None:
        return []
    n = 0 if report.reaches is None else len(report.reaches)
    count = "" if report.reaches is None else f" of {n} station{'' if n == 1 else 's'}"
    date = "" if terms.as_of is None else f", {terms.as_of}"
    return textwrap.wrap(f"List{count}: {terms.source or 'source not said'}{date}", _WIDTH)


def _line(cells: Sequence[str], widths: list[int]) -> str:
    right = (4, 5, 6)
    return "  ".join(
        cell.rjust(width) if i in right else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ).rstrip()
