"""What would change a number: a TV channel more, guards waived, another edge guard."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from sidon.capacity.case import Case
from sidon.capacity.lines import Line, case_of
from sidon.study.ask import CapacityAsk
from sidon.study.schema import Availability, Exclusion
from sidon.units import mhz_text

__all__ = ["changes"]

_USUAL_GUARDS_HZ = (500_000, 1_000_000)


def changes(
    line: Line,
    availability: Availability,
    ask: CapacityAsk,
    guarded: Callable[[int], Availability | None],
) -> Iterator[tuple[str, Case]]:
    """List what would change the number of a line.

    Parameters
    ----------
    line : Line
        The line.
    availability : Availability
        What is free at the place.
    ask : CapacityAsk
        What the study wants tried.
    guarded : callable
        What would be free with another edge guard, in hertz; None where nothing would.

    Yields
    ------
    (str, Case)
        What is different, and the case it makes. What would not change the question is left out.
    """
    base = case_of(line, availability)
    for name, case in _candidates(line, availability, ask, guarded):
        if case.guards != base.guards or not np.array_equal(case.candidates, base.candidates):
            yield name, case


def _candidates(
    line: Line,
    availability: Availability,
    ask: CapacityAsk,
    guarded: Callable[[int], Availability | None],
) -> Iterator[tuple[str, Case]]:
    for name, low, high in _channels(availability):
        if not ask.channels or name in ask.channels:
            guard = availability.edge_guard
            more = _taken((low - guard, high + guard), f"channel {name} on the air")
            kept = [*availability.exclusions, more]
            changed = availability.model_copy(update={"exclusions": kept})
            yield f"channel {name} on the air", case_of(line, changed)
    for form in ask.waive:
        yield f"guards on {form} waived", case_of(line, availability, waived=[form])
    for hz in _edge_guards(availability, ask):
        other = guarded(hz)
        if other is not None:
            yield f"edge guard {mhz_text(hz)} MHz", case_of(line, other)


def _channels(availability: Availability) -> list[tuple[str, int, int]]:
    """List the TV channels by name, with their edges in hertz."""
    region = availability.region.region if availability.region is not None else None
    if region is not None:
        return [(c.name, c.low_hz, c.high_hz) for c in region.channels]
    raster = availability.tv_raster
    if raster is None:
        return []
    numbers = range(raster.first_number, raster.last_number + 1)
    return [(str(number), *raster.channel(number)) for number in numbers]


def _taken(span: tuple[int, int], reason: str) -> Exclusion:
    # The edges are hertz already.
    return Exclusion.model_construct(range=span, reason=reason)


def _edge_guards(availability: Availability, ask: CapacityAsk) -> list[int]:
    if ask.edge_guards is not None:
        return ask.edge_guards
    if not availability.edge_guard:
        return list(_USUAL_GUARDS_HZ)
    return [availability.edge_guard // 2, availability.edge_guard * 2]
