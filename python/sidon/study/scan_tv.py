"""TV channels that a scan finds filled and no table lists: kept clear whole, and said."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from sidon.spectrum.scan.compare import filled
from sidon.spectrum.scan.planning import MOST_DB, QUIET_DB
from sidon.study.scan_schema import HeardContent, ScanUse
from sidon.study.schema import Availability, Exclusion

if TYPE_CHECKING:
    from sidon.spectrum import PlaceReport

__all__ = ["say_unlisted", "unlisted_reason"]

Span = tuple[int, int]

_DEAR_DB = MOST_DB + math.ceil(QUIET_DB)
_NOT_KEPT = (
    "; the scan is not used to exclude, so carriers stand in {them} where nothing else is left: "
    "list {them} in occupied, unless you know better"
)


def unlisted_reason(channel: object) -> str:
    """Write why a channel is kept clear that no table lists.

    Parameters
    ----------
    channel : object
        Its name or number.

    Returns
    -------
    str
        The reason of the exclusion.
    """
    return f"scan: looks like TV on {channel}, not listed"


def say_unlisted(
    availability: Availability, place: PlaceReport | None
) -> tuple[list[ScanUse], list[Exclusion]]:
    """Find the TV channels that scans see and no table lists. O(channels * intervals).

    Parameters
    ----------
    availability : Availability
        With its scans.
    place : PlaceReport or None
        The channels of the region, if one is named.

    Returns
    -------
    scans : list of ScanUse
        Each with a caution about what it sees, and with the gaps beside it as dear as itself.
    exclusions : list of Exclusion
        The whole channels with their edge guards, of the scans that are used to exclude.
    """
    guard = availability.edge_guard
    unlisted = _unlisted(availability, place)
    scans: list[ScanUse] = []
    kept: dict[str, Exclusion] = {}
    for scan in availability.scans:
        heard = scan.heard
        like = [
            name
            for name, span in unlisted.items()
            if filled(heard.occupied_hz, heard.heard_hz, span)
        ]
        if not like:
            scans.append(scan)
            continue
        if "exclude" in scan.use:
            for name in like:
                low, high = unlisted[name]
                # The edges are hertz already.
                span = (max(1, low - guard), high + guard)
                kept[name] = Exclusion.model_construct(range=span, reason=unlisted_reason(name))
        caution = _caution(like, excluded="exclude" in scan.use)
        update: dict[str, object] = {
            "cautions": [caution, *heard.cautions],
            "excess_db": _filled_cells(heard, [unlisted[name] for name in like], guard),
        }
        scans.append(scan.model_copy(update={"heard": heard.model_copy(update=update)}))
    return scans, list(kept.values())


def _filled_cells(heard: HeardContent, spans: Iterable[Span], guard: int) -> list[int | None]:
    """Make the gaps at the edges of a channel as dear as its middle, and its guard too."""
    cells = list(heard.excess_db)
    for low, high in spans:
        first = max(0, (low - guard - heard.first_hz) // heard.step_hz)
        last = min(len(cells), -((heard.first_hz - high - guard) // heard.step_hz))
        for at in range(first, last):
            cells[at] = max(cells[at] or 0, _DEAR_DB)
    return cells


def _unlisted(availability: Availability, place: PlaceReport | None) -> dict[str, Span]:
    """Channels that no table calls occupied, and that reach into what is available."""
    raster = availability.tv_raster
    channels: dict[str, Span] = {}
    if place is not None:
        channels = {
            str(entry.channel): (entry.low_hz, entry.high_hz)
            for entry in place.entries
            if entry.channel and entry.status != "blocked"
        }
    elif raster is not None:
        numbers = range(raster.first_number, raster.last_number + 1)
        listed = set(availability.occupied)
        channels = {str(n): raster.channel(n) for n in numbers if n not in listed}
    guard = availability.edge_guard
    return {
        name: span
        for name, span in channels.items()
        if _meets((span[0] - guard, span[1] + guard), availability.ranges)
    }


def _meets(span: Span, ranges: Iterable[Span]) -> bool:
    return any(span[0] < high and low < span[1] for low, high in ranges)


def _caution(names: list[str], *, excluded: bool) -> str:
    one = len(names) == 1
    where = f"channel{'' if one else 's'} {', '.join(names)}"
    head = f"what fills {where} looks like TV that no table lists"
    if not excluded:
        return head + _NOT_KEPT.format(them="it" if one else "them")
    whole = "the whole channel is" if one else "the whole channels are"
    return f"{head}; {whole} kept clear, with the edge guard: find out whose it is"
