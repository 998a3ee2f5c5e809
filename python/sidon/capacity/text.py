"""A study of capacity as text, CSV and HTML."""

from __future__ import annotations

import csv
import html
import io
import re
import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sidon.capacity.limits import TOO_WIDE
from sidon.capacity.lines import NOT_CHECKED
from sidon.capacity.verdict import (
    COMFORTABLE,
    FITS,
    NOT_FOUND,
    OPEN_LATER,
    SHORT_LATER,
    TIGHT,
    TOO_FEW,
    UNKNOWN,
    meanings,
)
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.capacity.result import Capacity, Mix, Row, WhatIf

__all__ = ["csv_text", "html_text", "summary"]

_WIDTH = 98
_MOST_CHANGES = 5
_MOST_ROWS = 8
_ROOMY = (COMFORTABLE, SHORT_LATER, OPEN_LATER)
_MOST_NAMES = 12
_MOST_REASONS = 2
_TV = re.compile(r"(occupied )?channel |guard in channel ")
_HEAD = (
    *("what", "profile", "band", "case", "fits", "upper_bound", "proof", "asked", "spares"),
    *("later", "headroom", "headroom_later", "verdict", "reason", "frequencies_mhz", "check"),
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
    words = [row.verdict for row in capacity.rows] + [mix.verdict for mix in capacity.mixes]
    legend = meanings(words, capacity.years)
    if legend:
        lines += ["", *_wrapped(f"{legend}.", "")]
    told = [row for row in capacity.rows if row.asked and not row.generic]
    if told:
        lines += ["", "Why:"]
        for row in told:
            where = f" (together in {' and '.join(row.where)})" if len(row.where) > 1 else ""
            lines += _wrapped(f"{row.profile} {row.band}: {row.reason}{where}.")
    lines += _obstacles(capacity)
    lines += _checks(capacity)
    lines += _classes(capacity)
    if capacity.mixes:
        lines += ["", "In one air, spares included:"]
        for mix in capacity.mixes:
            lines += _mixed(mix, capacity.years)
    lines += _what_ifs(capacity)
    lines += ["", "Mind:"]
    for note in capacity.notes:
        lines += _wrapped(note, "  - ")
    return "\n".join(lines)


def _mixed(mix: Mix, years: int) -> list[str]:
    """Say what two kinds get in one air, now and later."""
    lines = _wrapped(
        f"{mix.first} {mix.first_band} and {mix.second} {mix.second_band}: " + (f"{mix.verdict}.")
    )
    wanted = mix.first_asked + mix.first_spares, mix.asked + mix.spares
    text = f"{wanted[0]} {mix.first} and {wanted[1]} {mix.second} wanted, "
    text += f"{mix.first_fits} and {mix.fits} fit ({mix.alone} {mix.second} alone): "
    text += _state(mix, mix.now, sum(wanted))
    text += "; without spares they fit" if mix.verdict == TIGHT and mix.now != FITS else ""
    lines += _wrapped(f"now: {text}.", "    ")
    text = f"{mix.first_later} {mix.first} and {mix.later} {mix.second} wanted: "
    text += _state(mix, mix.in_years, mix.first_later + mix.later)
    return lines + _wrapped(f"in {years} years: {text}.", "    ")


def _state(mix: Mix, state: str, wanted: int) -> str:
    if state == TOO_FEW and mix.together_bound < wanted:
        return f"{state}, no more than {mix.together_bound} of {wanted} can"
    return {FITS: "enough", NOT_FOUND: "not found, more time may find it"}.get(state, state)


def _obstacles(capacity: Capacity) -> list[str]:
    """Say what stands in the way where nothing fits, or nothing can be told; alike ones at once."""
    found: dict[str, list[str]] = {}
    for row in capacity.rows:
        if row.fits and row.verdict != UNKNOWN:
            continue
        found.setdefault(_obstacle(capacity, row), []).append(f"{row.profile} {row.band}")
    lines: list[str] = []
    for reason, names in found.items():
        more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
        lines += _wrapped(f"{reason}: {', '.join(names[:_MOST_NAMES])}{more}.")
    return ["", "Nothing fits, or it cannot be told:", *lines] if lines else []


def _obstacle(capacity: Capacity, row: Row) -> str:
    """Name the kinds of obstacles that take most of a range, the largest first."""
    sizes: dict[str, int] = {}
    for low, high, label in capacity.spectrum.taken:
        size = sum(max(0, min(b, high) - max(a, low)) for a, b in row.ranges_hz)
        if size:
            name = _named(label)
            sizes[name] = sizes.get(name, 0) + size
    names = sorted(sizes, key=lambda name: (-sizes[name], name))
    if row.unchecked_hz and not any(name.startswith(NOT_CHECKED) for name in names):
        names.append(f"{NOT_CHECKED}: the study says nothing about it")
    if row.unchecked_hz:
        names.sort(key=lambda name: not name.startswith(NOT_CHECKED))
    more = " and other reasons" if len(names) > _MOST_REASONS else ""
    return "; ".join(names[:_MOST_REASONS]) + more or row.reason


def _named(label: str) -> str:
    """Say in words what takes a piece of spectrum."""
    text = label.removeprefix("exclusion ").strip("'\"")
    if NOT_CHECKED in text:
        return re.sub(r"no rule of .+ covers", "no rule covers", text[text.index(NOT_CHECKED) :])
    if "needs a licence" in text:
        rule = text[text.index("needs a licence") :].removeprefix("needs a licence: ")
        return f"not allowed: needs a licence ({_short(rule)}; say licensed = true with one)"
    return "TV channels and their guards" if _TV.match(text) else text


def _short(rule: str) -> str:
    return rule.split(": licence")[0]


def _checks(capacity: Capacity) -> list[str]:
    """Say what exceeds the rules of the region, alike ones at once."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in capacity.rows:
        if row.check:
            found.setdefault((row.profile, row.check), []).append(row.band)
    lines: list[str] = []
    for (profile, check), bands in found.items():
        lines += _wrapped(f"{profile} {', '.join(bands)}: {check}.")
    return ["", "Check before use:", *lines] if lines else []


def _classes(capacity: Capacity) -> list[str]:
    """Name the classes that leave room, the roomiest first, and what to tune of the first."""
    generic = [row for row in capacity.rows if row.generic and row.asked]
    lines: list[str] = []
    for in_ear, kind in ((False, "microphones"), (True, "in-ear transmitters")):
        rows = [row for row in generic if row.in_ear == in_ear]
        if not rows:
            continue
        wanted = rows[0].asked + rows[0].spares
        room = [row for row in rows if row.verdict in _ROOMY and not _too_wide(row)]
        room.sort(key=lambda row: -row.headroom)
        shown = room[:_MOST_ROWS]
        named = ", ".join(f"{row.profile} {row.band} ({row.fits})" for row in shown) or "none"
        named += f" and {len(room) - _MOST_ROWS} more" if len(room) > _MOST_ROWS else ""
        lines += _wrapped(f"{wanted} {kind}, spares included: {named}.")
        if room:
            tuned = ", ".join(map(mhz_text, _clear(capacity, room[0], wanted)))
            lines += _wrapped(f"{room[0].profile} {room[0].band}, to tune (MHz): {tuned}", "    ")
    return ["", "Classes with more than enough room now (how many fit):", *lines] if lines else []


def _too_wide(row: Row) -> bool:
    return row.check.startswith(TOO_WIDE)


def _clear(capacity: Capacity, row: Row, wanted: int) -> list[int]:
    """Choose carriers far from what is taken: a part of a compatible set is compatible."""

    def clearance(hz: int) -> int:
        taken = capacity.spectrum.taken
        return min((max(a - hz, hz - b) for a, b, _ in taken), default=0)

    return sorted(sorted(row.frequencies_hz, key=lambda hz: (-clearance(hz), hz))[:wanted])


def _table(capacity: Capacity) -> list[str]:
    lines = _columns(capacity, apart=False)
    # Where the table is too wide, names stand on lines of their own.
    return lines if max(map(len, lines)) <= _WIDTH else _columns(capacity, apart=True)


def _columns(capacity: Capacity, *, apart: bool) -> list[str]:
    heads = (
        ("", "", "", "", "", "asked", f"in {capacity.years} y", "left", ""),
        ("", "MHz", "free", "fit", "most", "+spare", "+spare", "now/later", "verdict"),
    )
    rows: list[tuple[str, ...]] = [*heads]
    last = None
    for row in capacity.rows:
        name = (row.profile, row.generic)
        left = f"{row.headroom:+d}/{row.headroom_later:+d}" if row.asked else ""
        numbers = (f"{row.asked}+{row.spares}", str(row.later)) if row.asked else ("", "")
        if apart and name != last:
            rows.append((row.profile,))
        dark = not row.fits and row.verdict == UNKNOWN
        fits = ("?", "?") if dark else (str(row.fits), str(row.upper_bound))
        rows.append(
            (
                "" if apart or name == last else row.profile[:22],
                row.band[:12],
                f"{row.free_hz / 1e6:.1f}",
                *fits,
                *numbers,
                "" if dark else left,
                row.verdict.split(":")[0] + ("; check" if row.check else ""),
            )
        )
        last = name
    full = [row for row in rows if len(row) == len(heads[0])]
    widths = [max(len(row[i]) for row in full) for i in range(len(heads[0]))]
    return [
        "  ".join(
            cell.ljust(width) if i in (0, 1, len(widths) - 1) else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=False))
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
            *(row.verdict, row.reason, _mhz(row.frequencies_hz), row.check),
        )
    for change in capacity.what_ifs:
        yield (
            *("what if", change.profile, change.band, change.case, change.fits),
            *(change.upper_bound, change.proof, "", "", "", "", ""),
            *(change.verdict, change.reason, _mhz(change.frequencies_hz), ""),
        )
    for mix in capacity.mixes:
        case = f"with {mix.first_fits} {mix.first}: {_mhz(mix.first_frequencies_hz)}"
        yield (
            *("mix", mix.second, mix.second_band, case, mix.fits, mix.upper_bound, ""),
            *(mix.asked, mix.spares, mix.later, mix.fits - mix.asked - mix.spares, ""),
            *(mix.verdict, mix.reason, _mhz(mix.frequencies_hz), ""),
        )
        hz = mix.later_frequencies_hz
        if hz:
            first = mix.later_first_frequencies_hz
            case = f"in {capacity.years} years with {len(first)} {mix.first}: {_mhz(first)}"
            yield (
                *("mix later", mix.second, mix.second_band, case, len(hz), mix.upper_bound, ""),
                *(mix.asked, mix.spares, mix.later, "", len(hz) - mix.later),
                *(mix.verdict, mix.reason, _mhz(hz), ""),
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
        *(f"in {capacity.years} years", "verdict", "check", "reason", "tune (MHz)"),
    )
    body = ""
    for row in capacity.rows:
        cells = (
            *(row.profile, row.band, f"{row.free_hz / 1e6:g}", row.fits, row.upper_bound),
            *(row.asked, row.spares, row.later, row.verdict, row.check, row.reason),
            _mhz(row.frequencies_hz),
        )
        body += "<tr>" + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in cells) + "</tr>"
    mind = "".join(f"<li>{html.escape(note)}</li>" for note in capacity.notes)
    caption = html.escape(f"Capacity: {capacity.study} ({capacity.place})")
    titles = "".join(f"<th>{html.escape(name)}</th>" for name in head)
    return f"<table><caption>{caption}</caption><tr>{titles}</tr>{body}</table><ul>{mind}</ul>"
