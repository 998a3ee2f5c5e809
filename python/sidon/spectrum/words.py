"""The report on a place in words: the table, its cautions, and CSV."""

from __future__ import annotations

import csv
import io
import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sidon.spectrum.status import allowed
from sidon.units import format_frequency

if TYPE_CHECKING:
    from sidon.spectrum.report import PlaceReport
    from sidon.spectrum.status import Entry

__all__ = ["cautions", "csv_text", "summary"]

_WIDTH = 100
_FIRST = "Estimates, not permissions: licences, local rules and a scan at the place decide."


def cautions(report: PlaceReport) -> tuple[str, ...]:
    """List what to mind about a report.

    Parameters
    ----------
    report : PlaceReport
        The report.

    Returns
    -------
    tuple of str
        Sentences, the weightiest first.
    """
    found = [_FIRST]
    if report.reaches is not None:
        found.append(
            f"Fields: {report.propagation.words}, at half of the locations, from a table of "
            f"{len(report.reaches)} stations; no terrain, walls or buildings. Single places differ "
            "by 10 dB and more."
        )
        if any(reach.station.height_above == "ground" for reach in report.reaches):
            found.append(
                "Heights above ground are taken as effective heights: a mast on a hill reaches "
                "further than computed."
            )
        if report.region.protection is not None and report.region.protection.caution:
            found.append(report.region.protection.caution)
    if report.terms.as_of is None:
        found.append(
            "The list of TV channels carries no date (availability.as_of): such lists go stale."
        )
    else:
        found.append(f"The list of TV channels is of {report.terms.as_of}: such lists go stale.")
    if any(entry.status == "not checked" for entry in report.entries):
        found.append('"not checked" is not free: nothing here says whether it may be used.')
    if report.terms.confirmed:
        names = ", ".join(sorted(report.terms.confirmed))
        found.append(f"Confirmed by the study, not by the region file: {names}.")
    if report.building is not None:
        found.append(
            "Levels indoors are estimates (Rec. ITU-R P.2109, loss that a tenth of rooms fall "
            "short of); only a measurement over the whole channel counts."
        )
    found.append(f"Region {report.region.name!r}: {report.region.title}. {report.region.caution}")
    return tuple(found)


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
    head = ["channel", "MHz", "status", "station", "field", "limit", "margin", "date"]
    if report.building is not None:
        head.append("indoors")
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
        lines += [
            "",
            "field and limit in dBuV/m; margin in km outside (+) or inside (-) the contour",
        ]
        lines += ["", "Rules in these channels:", *_rules(report)]
    if bands:
        lines += ["", "Other bands:", *(line for band in bands for line in band)]
    lines += ["", "Mind:"]
    for caution in report.cautions:
        lines += textwrap.wrap(caution, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    return "\n".join(lines)


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
                _mhz(cell) if name in names else _cell(cell)
                for name, cell in zip(table, row, strict=True)
            ]
        )
    return text.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.2f}"
    # A spreadsheet would take it for a formula.
    return f"'{value}" if isinstance(value, str) and value[:1] in "=+-@" and value else value


def _mhz(hz: int) -> str:
    return format_frequency(hz).removesuffix(" MHz")


def _short(hz: int) -> str:
    return f"{hz / 1e6:g}"


def _cells(report: PlaceReport, entry: Entry, common: str) -> tuple[list[str], str]:
    reach = entry.reach
    figures = ("", "", "", "")
    if reach is not None:
        on = "" if reach.channel.name == entry.channel else f" ({reach.channel.name})"
        figures = (
            f"{reach.station.label[:24]}{on}",
            f"{reach.field_dbuv_m:.1f}",
            f"{reach.threshold_dbuv_m:.1f}",
            f"{reach.margin_km:+.1f}",
        )
    span = f"{_short(entry.low_hz)}-{_short(entry.high_hz)}"
    date = "" if entry.as_of is None else entry.as_of.isoformat()
    source = f" ({entry.source})" if entry.source not in ("", common) else ""
    cells = [entry.channel, span, entry.status, *figures, date]
    if report.building is not None:
        level = None if reach is None else report.indoor_dbm(reach)
        cells.append("" if level is None else f"{level:.0f} dBm")
    return cells, f"{entry.reason}{source}"


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
    count = "" if report.reaches is None else f" of {len(report.reaches)} stations"
    date = "" if terms.as_of is None else f", {terms.as_of}"
    return textwrap.wrap(f"List{count}: {terms.source or 'source not said'}{date}", _WIDTH)


def _line(cells: Sequence[str], widths: list[int]) -> str:
    right = (4, 5, 6)
    return "  ".join(
        cell.rjust(width) if i in right else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ).rstrip()
