"""A study of capacity as text, CSV and HTML."""

from __future__ import annotations

import csv
import html
import io
import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sidon.capacity.verdict import COMFORTABLE, ENOUGH, UNKNOWN
from sidon.plan.hertz import mhz_text

if TYPE_CHECKING:
    from sidon.capacity.result import Capacity, WhatIf

__all__ = ["csv_text", "html_text", "summary"]

_WIDTH = 98
_MOST_CHANGES = 5
_MOST_ROWS = 8
_HEAD = (
    *("what", "profile", "band", "case", "fits", "upper_bound", "proof", "asked", "spares"),
    *("later", "headroom", "headroom_later", "verdict", "reason", "frequencies_mhz"),
)


def summary(capacity: Capacity) -> str:
    """Summarise in plain text.

    Parameters
    ----------
    capacity : Capacity
        The answer.

    Returns
    -------
    str
        At most a hundred columns wide.
    """
    lines = [f"Capacity: {capacity.study}", f"Place: {capacity.place}", "", *_table(capacity)]
    told = [row for row in capacity.rows if row.asked and not row.generic]
    if told:
        lines += ["", "Why:"]
        for row in told:
            where = f" (together in {' and '.join(row.where)})" if len(row.where) > 1 else ""
            lines += _wrapped(f"{row.profile} {row.band}: {row.reason}{where}.")
    lines += _classes(capacity)
    if capacity.mixes:
        lines += ["", "In one air:"]
        for mix in capacity.mixes:
            short = "" if mix.first_fits >= mix.first_asked else f" of {mix.first_asked}"
            lines += _wrapped(
                f"{mix.first_fits}{short} {mix.first} and {mix.fits} {mix.second} "
                f"({mix.alone} alone; {mix.asked} asked): {mix.verdict}."
            )
    lines += _what_ifs(capacity)
    lines += ["", "Mind:"]
    for note in capacity.notes:
        lines += _wrapped(note, "  - ")
    return "\n".join(lines)


def _classes(capacity: Capacity) -> list[str]:
    """Name the classes that leave room, the roomiest first, and what to tune of the first."""
    generic = [row for row in capacity.rows if row.generic and row.asked]
    lines: list[str] = []
    for in_ear, kind in ((False, "microphones"), (True, "in-ear transmitters")):
        rows = [row for row in generic if row.in_ear == in_ear]
        if not rows:
            continue
        wanted = rows[0].asked + rows[0].spares
        room = [row for row in rows if row.verdict in (COMFORTABLE, ENOUGH)]
        room.sort(key=lambda row: -row.headroom)
        shown = room[:_MOST_ROWS]
        named = ", ".join(f"{row.profile} {row.band} ({row.fits})" for row in shown) or "none"
        named += f" and {len(room) - _MOST_ROWS} more" if len(room) > _MOST_ROWS else ""
        lines += _wrapped(f"{wanted} {kind}, spares included: {named}.")
        if room:
            tuned = ", ".join(mhz_text(hz) for hz in room[0].frequencies_hz[:wanted])
            lines += _wrapped(f"{room[0].profile} {room[0].band}, to tune (MHz): {tuned}", "    ")
    return ["", "Classes with more than enough room (how many fit):", *lines] if lines else []


def _table(capacity: Capacity) -> list[str]:
    later = f"in {capacity.years} y"
    head = ("", "MHz", "free", "fit", "most", "asked", "+spare", later, "left", "verdict")
    rows: list[tuple[str, ...]] = [head]
    last = None
    for row in capacity.rows:
        name = (row.profile, row.generic)
        left = f"{row.headroom:+d}/{row.headroom_later:+d}" if row.asked else ""
        numbers = (row.asked, row.asked + row.spares, row.later) if row.asked else ("", "", "")
        dark = not row.fits and row.verdict == UNKNOWN
        fits = ("?", "?") if dark else (str(row.fits), str(row.upper_bound))
        left = "" if dark else left
        rows.append(
            (
                "" if name == last else row.profile[:22],
                row.band[:12],
                f"{row.free_hz / 1e6:.1f}",
                *fits,
                *map(str, numbers),
                left,
                row.verdict.replace(": not checked spectrum", ""),
            )
        )
        last = name
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    return [
        "  ".join(
            cell.ljust(width) if i in (0, 1, len(head) - 1) else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _what_ifs(capacity: Capacity) -> list[str]:
    by_row: dict[tuple[str, str], list[WhatIf]] = {}
    for change in capacity.what_ifs:
        by_row.setdefault((change.profile, change.band), []).append(change)
    lines: list[str] = []
    for (profile, band), changes in by_row.items():
        losses = sorted((c for c in changes if c.case.startswith("channel")), key=_loss)
        shown = losses[:_MOST_CHANGES] + [c for c in changes if not c.case.startswith("channel")]
        texts = [f"{c.case}: {c.fits} ({c.change:+d})" for c in shown]
        if len(losses) > _MOST_CHANGES:
            texts.append("no other channel costs more")
        lines += _wrapped(f"{profile} {band}: {'; '.join(texts)}.")
    return ["", "What if:", *lines] if lines else []


def _loss(change: WhatIf) -> int:
    return change.change


def _wrapped(text: str, lead: str = "  ") -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=lead,
        subsequent_indent="    ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def csv_text(capacity: Capacity) -> str:
    """Write everything as CSV, frequencies in MHz.

    Parameters
    ----------
    capacity : Capacity
        The answer.

    Returns
    -------
    str
        A header, then a line per row, what-if and mix (``what`` tells which).
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_HEAD)
    writer.writerows(_records(capacity))
    return text.getvalue()


def _records(capacity: Capacity) -> Iterator[Sequence[object]]:
    for row in capacity.rows:
        yield (
            *("row", row.profile, row.band, "as it is", row.fits, row.upper_bound, row.proof),
            *(row.asked, row.spares, row.later, row.headroom, row.headroom_later),
            *(row.verdict, row.reason, _mhz(row.frequencies_hz)),
        )
    for change in capacity.what_ifs:
        yield (
            *("what if", change.profile, change.band, change.case, change.fits),
            *(change.upper_bound, change.proof, "", "", "", "", ""),
            *(change.verdict, change.reason, _mhz(change.frequencies_hz)),
        )
    for mix in capacity.mixes:
        case = f"with {mix.first_fits} {mix.first}: {_mhz(mix.first_frequencies_hz)}"
        yield (
            *("mix", mix.second, mix.second_band, case, mix.fits, mix.upper_bound, ""),
            *(mix.asked, "", "", "", "", mix.verdict, mix.reason, _mhz(mix.frequencies_hz)),
        )


def _mhz(frequencies: Sequence[int]) -> str:
    return "; ".join(mhz_text(hz) for hz in frequencies)


def html_text(capacity: Capacity) -> str:
    """Write the rows as an HTML table for a notebook.

    Parameters
    ----------
    capacity : Capacity
        The answer.

    Returns
    -------
    str
        The table and what to mind; every text is escaped.
    """
    head = (
        *("profile", "band (MHz)", "free MHz", "fit", "at most", "asked", "spares"),
        *(f"in {capacity.years} years", "verdict", "reason", "tune (MHz)"),
    )
    body = ""
    for row in capacity.rows:
        cells = (
            *(row.profile, row.band, f"{row.free_hz / 1e6:g}", row.fits, row.upper_bound),
            *(row.asked, row.spares, row.later, row.verdict, row.reason),
            _mhz(row.frequencies_hz),
        )
        body += "<tr>" + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in cells) + "</tr>"
    mind = "".join(f"<li>{html.escape(note)}</li>" for note in capacity.notes)
    caption = html.escape(f"Capacity: {capacity.study} ({capacity.place})")
    titles = "".join(f"<th>{html.escape(name)}</th>" for name in head)
    return f"<table><caption>{caption}</caption><tr>{titles}</tr>{body}</table><ul>{mind}</ul>"
