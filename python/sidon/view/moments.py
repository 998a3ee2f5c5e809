"""Who is on the air over time: steps at every change, and the pieces of time that are shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier, carriers

__all__ = ["Step", "moment", "pieces", "steps"]

_EPOCH = dt.datetime(1970, 1, 1)
_GAP_MIN = 4 * 60


@dataclass(frozen=True)
class Step:
    """A stretch of time without a change.

    Parameters
    ----------
    start, end : int
        Minutes of local time since 1970; the end is the first minute after it.
    on_air : tuple of Carrier
        Who is on the air, foreign carriers left out.
    """

    start: int
    end: int
    on_air: tuple[Carrier, ...]


def steps(document: PlanDocument) -> list[Step]:
    """Cut the time of a plan where anything changes. O(windows * carriers).

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of Step
        From the first start to the last end of a window; links that are always on the air are on
        it in every step. Empty when no window is used.
    """
    own = [carrier for carrier in carriers(document) if not carrier.foreign]
    edges = sorted({minute for carrier in own for span in carrier.spans for minute in span})
    return [
        Step(start, end, tuple(c for c in own if _is_on(c, start)))
        for start, end in pairwise(edges)
    ]


def _is_on(carrier: Carrier, minute: int) -> bool:
    return not carrier.spans or any(start <= minute < end for start, end in carrier.spans)


def pieces(found: Sequence[Step], is_quiet: Callable[[Step], bool]) -> list[tuple[int, int]]:
    """Leave out the long stretches in which no window is open.

    Parameters
    ----------
    found : sequence of Step
        All steps.
    is_quiet : callable
        Tells whether nothing happens in one.

    Returns
    -------
    list of (int, int)
        Minutes, ascending; stretches of more than four quiet hours are left out.
    """
    spans: list[tuple[int, int]] = []
    for step in found:
        if is_quiet(step) and step.end - step.start > _GAP_MIN:
            continue
        if spans and spans[-1][1] == step.start:
            spans[-1] = (spans[-1][0], step.end)
        else:
            spans.append((step.start, step.end))
    return spans


def moment(minute: float) -> dt.datetime:
    """Return the local time of a minute."""
    return _EPOCH + dt.timedelta(minutes=minute)
