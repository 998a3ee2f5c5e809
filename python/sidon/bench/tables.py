"""What the runs come to: rows as CSV, and a table of gaps to the best known values."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict, fields
from statistics import mean, median
from typing import TYPE_CHECKING

from sidon.bench.runner import Row

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["csv_text", "family_table", "gap_table"]


def csv_text(rows: Sequence[Row]) -> str:
    """Write rows as comma-separated values with a header.

    Parameters
    ----------
    rows : sequence of Row
        In any order.

    Returns
    -------
    str
        One line for each row; a missing value is empty.
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, [field.name for field in fields(Row)], lineterminator="\n")
    writer.writeheader()
    writer.writerows(asdict(row) for row in rows)
    return text.getvalue()


def _shown(value: float | None, digits: int = 2) -> str:
    return "-" if value is None else f"{value:.{digits}f}"


def gap_table(rows: Sequence[Row]) -> str:
    """Set the best and the middle answer over seeds beside the best known value.

    Parameters
    ----------
    rows : sequence of Row
        Of one family.

    Returns
    -------
    str
        A Markdown table, one row for each instance and method, and one for each method in all.
    """
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        groups.setdefault((row.instance, row.method), []).append(row)
    lines = [
        "| instance | method | best known | best | median | bound | gap of best, % | reached "
        "| time to best, s | proved | checked |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    best_gaps: dict[str, list[float | None]] = {}
    for (instance, method), group in groups.items():
        values = [row.value for row in group if row.value is not None]
        served = group[0].measure == "served"
        best = (max if served else min)(values, default=None)
        gaps = [row.gap for row in group if row.gap is not None]
        gap = min(gaps, default=None)
        if group[0].best_known is not None:
            best_gaps.setdefault(method, []).append(gap)
        bound = (min if served else max)(row.bound for row in group)
        reached = sum(row.gap is not None and row.gap <= 0 for row in group)
        cells = [
            instance,
            method,
            _shown(group[0].best_known, 0),
            _shown(best, 0),
            _shown(float(median(values)) if values else None, 1),
            str(bound),
            _shown(gap),
            f"{reached}/{len(group)}",
            _shown(median(row.time_to_best_s for row in group)),
            f"{sum(row.status == 'optimal' for row in group)}/{len(group)}",
            f"{sum(row.checked for row in group)}/{len(group)}",
        ]
        lines.append("| " + " | ".join(cells) + " |")
    lines += [
        "",
        "| method | instances with a known value | reached, % | within 3 %, % "
        "| mean gap where answered, % |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for method, all_gaps in best_gaps.items():
        cells = [method, str(len(all_gaps)), *_shares(all_gaps)]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines + _footing(rows)) + "\n"


def _shares(gaps: Sequence[float | None]) -> list[str]:
    """Return the share at the best known value, the share within 3 %, and the mean gap."""
    answered = [gap for gap in gaps if gap is not None]
    shares = [100 * sum(gap <= most for gap in answered) / max(len(gaps), 1) for most in (0, 3)]
    return [
        f"{shares[0]:.0f}",
        f"{shares[1]:.0f}",
        _shown(mean(answered) if answered else None),
    ]


def _footing(rows: Sequence[Row]) -> list[str]:
    if not rows:
        return []
    first = rows[0]
    return [
        "",
        f"{first.machine}; {first.threads} threads; commit {first.commit}; "
        f"{first.seconds:g} s a run; "
        f"seeds {', '.join(str(seed) for seed in sorted({row.seed for row in rows}))}.",
    ]


def family_table(rows: Sequence[Row]) -> str:
    """Set families and methods side by side: how often and how nearly the best known is reached.

    Parameters
    ----------
    rows : sequence of Row
        Of any number of families.

    Returns
    -------
    str
        A Markdown table, one row for each family and method: over the instances the best of their
        seeds, and over all runs.
    """
    groups: dict[tuple[str, str], dict[str, list[Row]]] = {}
    for row in rows:
        if row.best_known is not None:
            of_method = groups.setdefault((row.family, row.method), {})
            of_method.setdefault(row.instance, []).append(row)
    lines = [
        "| family | method | instances with a known value | best of seeds: reached, % "
        "| within 3 %, % | mean gap, % | all runs: reached, % | within 3 %, % | mean gap, % "
        "| no answer | checked |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for (family, method), instances in groups.items():
        runs = [row for own in instances.values() for row in own]
        best = [
            min((row.gap for row in own if row.gap is not None), default=None)
            for own in instances.values()
        ]
        cells = [
            family,
            method,
            str(len(instances)),
            *_shares(best),
            *_shares([row.gap for row in runs]),
            f"{sum(row.gap is None for row in runs)}/{len(runs)}",
            f"{sum(row.checked for row in runs)}/{len(runs)}",
        ]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines + _footing(rows)) + "\n"
