"""A plan summarised in plain text, and its refusals grouped by their reason."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from sidon.plan.document import PlanDocument, RefusedRecord

__all__ = ["refusal_lines", "refusals", "summary", "totals"]

_WIDTH = 92
_MOST_LINES = 40
_REST = "listed with --all-refusals, in plan.json and in the CSV"


def summary(
    document: PlanDocument, *, all_refusals: bool = False, further: Sequence[str] = ()
) -> str:
    """Summarise a plan in plain text.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    all_refusals : bool, default False
        List every refused link, however many lines that takes.
    further : sequence of str, default ()
        Lines that follow the refusals.

    Returns
    -------
    str
        Served and refused by zone and profile, reasons, and cautions.
    """
    lines = [f"Plan: {document.study or 'without a name'}"]
    if document.place:
        lines.append(f"Place: {document.place.name}")
    lines += ["", *_served_table(document), "", totals(document)]
    if document.refused:
        lines += ["", *refusal_lines(document, all_refusals=all_refusals), ""]
    if further:
        lines += ["", *further, ""]
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


def refusals(document: PlanDocument) -> list[tuple[list[str], str]]:
    """Group refused links by their reason.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of (list of str, str)
        Names of links, spares marked, and their common reason.
    """
    groups: dict[str, list[str]] = {}
    for row in document.refused:
        groups.setdefault(row.reason, []).append(row.link + (" (spare)" if row.spare else ""))
    return [(names, why) for why, names in groups.items()]


def refusal_lines(document: PlanDocument, *, all_refusals: bool = False) -> list[str]:
    """Write the refusals down, links by reason; a name is never broken.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    all_refusals : bool, default False
        Write all lines; otherwise at most forty, and how many links they leave out.

    Returns
    -------
    list of str
        Lines, with a heading; none when nothing is refused.
    """
    if not document.refused:
        return []
    told: list[tuple[str, int]] = []
    for names, why in refusals(document):
        told += [(line, count) for line, count in _filled(names)]
        told += [
            (line, 0)
            for line in textwrap.wrap(
                why,
                _WIDTH,
                initial_indent="      ",
                subsequent_indent="      ",
                break_long_words=False,
                break_on_hyphens=False,
            )
        ]
    shown = told if all_refusals else told[:_MOST_LINES]
    lines = ["Refused:", *(line for line, _ in shown)]
    left = sum(count for _, count in told) - sum(count for _, count in shown)
    if left:
        lines.append(f"  and {left} more links, {_REST}")
    return lines


def _filled(names: list[str]) -> list[tuple[str, int]]:
    """Lines of names with the number of names in each; a name longer than a line has its own."""
    lines: list[tuple[str, int]] = []
    line, count = "  ", 0
    for index, name in enumerate(names):
        text = name + (":" if index == len(names) - 1 else ",")
        if count and len(line) + len(text) + 1 > _WIDTH:
            lines.append((line, count))
            line, count = "  ", 0
        line, count = line + (" " if count else "") + text, count + 1
    return [*lines, (line, count)]


def totals(document: PlanDocument) -> str:
    """Count the links served of those asked for; foreign carriers are counted apart.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    str
        One sentence.
    """
    total = np.sum([[0] * 4, *_counts(document).values()], axis=0)
    asked = len(document.asked.required), len(document.asked.spares)
    text = f"Served {total[0]} of {asked[0]} required links and {total[2]} of {asked[1]} spares"
    foreign = len(document.incumbents)
    noun = "carrier" if foreign == 1 else "carriers"
    kept = f", clear of {foreign} foreign {noun}" if foreign else ""
    return f"{text}{kept}; {len(document.refused)} refused."


def _counts(document: PlanDocument) -> dict[tuple[str, str], list[int]]:
    """Count served and asked, required and spare, by zone and profile."""
    counts: dict[tuple[str, str], list[int]] = {}
    for row in document.assignments:
        cell = counts.setdefault((row.zone, row.profile), [0, 0, 0, 0])
        cell[2 * row.spare] += 1
        cell[2 * row.spare + 1] += 1
    lost: RefusedRecord
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
