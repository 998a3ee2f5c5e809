"""How the zones of a plan are coupled, in text: counts, the model, what is near a limit."""

from __future__ import annotations

from collections import Counter

from sidon.plan.document import IsolationRecord, PlanDocument

__all__ = ["coupling_lines"]

_NEAR_DB = 6.0
_MOST_LINES = 12


def coupling_lines(document: PlanDocument) -> list[str]:
    """Say how zones are coupled, where that was taken from isolation.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of str
        Counts by degree, the parameters of the model, and the pairs within 6 dB of a threshold,
        nearest first, twelve at most; empty when every degree was given.
    """
    rules = document.isolation
    if rules is None:
        return []
    counts = Counter(row.degree for row in document.couplings)
    full, separation, none = counts["full"], counts["separation"], counts["none"]
    lines = [
        f"Zones: pairs coordinated {full} full, {separation} separation only, {none} none",
        *model_lines(rules),
    ]
    near = sorted(
        (min(abs(row.isolation_db - limit) for limit in _limits(rules)), i)
        for i, row in enumerate(rules.pairs)
        if row.basis != "degree given"
    )
    near = [(gap, i) for gap, i in near if gap <= _NEAR_DB]
    for _, i in near[:_MOST_LINES]:
        row = rules.pairs[i]
        lines.append(
            f"  near a limit: {row.zones[0]} and {row.zones[1]}, {row.isolation_db:g} dB "
            f"({row.basis}), taken as {row.degree}"
        )
    if len(near) > _MOST_LINES:
        lines.append(f"  and {len(near) - _MOST_LINES} more pairs near a limit, in plan.json")
    return lines


def model_lines(rules: IsolationRecord) -> list[str]:
    """Write the parameters of the model down.

    Parameters
    ----------
    rules : IsolationRecord
        As the plan holds them.

    Returns
    -------
    list of str
        Thresholds; how isolation was computed, where some was.
    """
    lines = [
        f"  separation only from {rules.separation_from_db:g} dB of isolation, none from "
        f"{rules.none_from_db:g} dB"
    ]
    if any(row.basis.startswith("computed") for row in rules.pairs):
        lines.append(
            f"  computed: {rules.reference_loss_db:g} dB at {rules.reference_m:g} m "
            f"({rules.frequency_hz / 1e6:g} MHz), exponent {rules.exponent:g}, wall "
            f"{rules.wall_db:g} dB, body {rules.body_db:g} dB, less a margin of "
            f"{rules.margin_db:g} dB"
        )
    return lines


def _limits(rules: IsolationRecord) -> tuple[float, float]:
    return rules.separation_from_db, rules.none_from_db
