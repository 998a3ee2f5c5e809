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

__all__ = ["csv_text", "gap_table"]


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
        answered = [gap for gap in all_gaps if gap is not None]
        shares = [100 * sum(gap <= most for gap in answered) / len(all_gaps) for most in (0, 3)]
        cells = [
            f"{shares[0]:.0f}",
            f"{shares[1]:.0f}",
            _shown(mean(answered) if answered else None),
        ]
        lines.append(f"| {method} | {len(all_gaps)} | " + " | ".join(cells) + " |")
    if rows:
        first = rows[0]
        lines += [
            "",
            f"{first.machine}; {first.threads} threads; commit {first.commit}; "
            f"{first.seconds:g} s a run; "
            f"seeds {', '.join(str(seed) for seed in sorted({row.seed for row in rows}))}.",
        ]
    return "\n".join(lines) + "\n"
