"""What the rules of a region limit, against what a kind of equipment is: bandwidth and power."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from sidon.capacity.lines import Line, overlap, plain_mhz
from sidon.spectrum.region import Band
from sidon.spectrum.status import allowed, within

if TYPE_CHECKING:
    from sidon.study import Study

__all__ = ["TOO_WIDE", "limit_notes", "rules_of", "too_much"]

Span = tuple[int, int]

TOO_WIDE = "wider than"
"""How a check begins that no setting of the equipment can meet."""

_POWER = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*(mW|W)\b")
_MOST_RULES = 8
_MOST_PARTS = 4


def rules_of(study: Study) -> list[Band]:
    """List the rules of the region of a study that hold for the asker; none without a region.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    list of Band
        As the region lists them.
    """
    if study.model.availability.region is None:
        return []
    report = study.place_report()
    return [band for band in report.region.bands if allowed(band, report.terms)]


def too_much(line: Line, free: Sequence[Span], rules: Sequence[Band]) -> str:
    """Say what of a kind exceeds the rules where it finds free spectrum.

    Parameters
    ----------
    line : Line
        The kind, with what it tunes.
    free : sequence of (int, int)
        What is free, in hertz.
    rules : sequence of Band
        The rules that hold.

    Returns
    -------
    str
        The limits of bandwidth and power that it exceeds; empty where it exceeds none. Where
        several rules meet, the mildest counts.
    """
    spans = [
        (max(a, c), min(b, d)) for a, b in line.profile.ranges for c, d in free if a < d and c < b
    ]
    found = []
    width = _exceeded(
        spans, [(b, b.bandwidth) for b in rules], lambda most: most < line.profile.bandwidth
    )
    if width is not None:
        found.append(f"{TOO_WIDE} the {width[0] / 1e6:g} MHz allowed here{width[1]}")
    highest = _highest_mw(line.power)
    power = _exceeded(spans, [(b, b.power_mw) for b in rules], lambda most: most < highest)
    if power is not None:
        limit = f"set it to the {power[0]:g} mW allowed here{power[1]}"
        found.append(f"{limit}; it has up to {highest:g} mW")
    return "; ".join(found)


def _exceeded(
    spans: Sequence[Span],
    limits: Sequence[tuple[Band, float | None]],
    broken: Callable[[float], bool],
) -> tuple[float, str] | None:
    """Find the strictest limit that is broken where no milder one holds, and where in words."""
    kept = [r for band, most in limits if most is None or not broken(most) for r in band.ranges]
    left = [rest for span in spans for rest in within(span, without=kept)]
    worst = [
        (most, band)
        for band, most in limits
        if most is not None and broken(most) and overlap(left, band.ranges)
    ]
    if not worst:
        return None
    ranges = [span for _, band in worst for span in band.ranges]
    most = min(limit for limit, _ in worst)
    if overlap(spans, ranges) == overlap(spans, spans):
        return most, ""
    parts = sorted({(max(a, c), min(b, d)) for a, b in left for c, d in ranges if a < d and c < b})
    told = ", ".join(f"{plain_mhz(a)}-{plain_mhz(b)}" for a, b in parts[:_MOST_PARTS])
    return most, f" in {told}{' and more' if len(parts) > _MOST_PARTS else ''}"


def _highest_mw(power: str) -> float:
    """Read the highest power out of words such as "10 to 50 mW"; 0 where there is none."""
    return max(
        (float(n) * (1000 if unit == "W" else 1) for n, unit in _POWER.findall(power)), default=0.0
    )


def limit_notes(lines: Sequence[Line], free: Sequence[Span], rules: Sequence[Band]) -> list[str]:
    """Say the limits of the rules under which rows found free spectrum.

    Parameters
    ----------
    lines : sequence of Line
        The rows.
    free : sequence of (int, int)
        What is free, in hertz.
    rules : sequence of Band
        The rules that hold.

    Returns
    -------
    list of str
        At most one sentence.
    """
    tuned = [
        (max(a, c), min(b, d))
        for line in lines
        for a, b in line.profile.ranges
        for c, d in free
        if a < d and c < b
    ]
    told = []
    for band in rules:
        limits = [] if band.bandwidth is None else [f"{band.bandwidth / 1e6:g} MHz wide"]
        limits += [] if band.power_mw is None else [f"{band.power_mw:g} mW {band.power_is}"]
        if limits and overlap(tuned, band.ranges):
            spans = ", ".join(f"{plain_mhz(a)}-{plain_mhz(b)}" for a, b in band.ranges)
            told.append(f"{band.name} ({spans} MHz), at most {' and '.join(limits)}")
    if not told:
        return []
    more = f"; and {len(told) - _MOST_RULES} more" if len(told) > _MOST_RULES else ""
    return [
        f"Limits of the region: {'; '.join(told[:_MOST_RULES])}{more}. Compared with figures that "
        "may be typical of a class only: the maker's decide."
    ]
