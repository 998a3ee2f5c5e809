"""What must hold between the key `capacity` and the rest of a study."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from sidon._faults import nearest
from sidon.exceptions import Fault
from sidon.study.draft import Draft

__all__ = ["ask_faults"]


def ask_faults(draft: Draft) -> list[Fault]:
    """Find every fault between the key `capacity` and the other parts. O(n) in its entries.

    Parameters
    ----------
    draft : Draft
        What could be read of the study.

    Returns
    -------
    list of Fault
        All faults, in the order of the keys.
    """
    return list(chain(_asked_twice(draft), _channels(draft), _mixes(draft)))


def _asked_twice(draft: Draft) -> Iterator[Fault]:
    for key in ("ask", "in_ears"):
        if draft.demand and draft.capacity.has(key):
            what = "demand says already what is asked"
            yield Fault(f"capacity.{key}", what, f"drop {key}, or drop demand")


def _channels(draft: Draft) -> Iterator[Fault]:
    channels = draft.capacity.items("channels")
    if not channels:
        return
    choice = draft.availability.get("region")
    region = choice.region if choice is not None else None
    first, last = (draft.tv_raster.get(key) for key in ("first_number", "last_number"))
    if region is not None:
        known, use = {c.name for c in region.channels}, region.channel_words
    elif None not in (first, last):
        known, use = {str(n) for n in range(first, last + 1)}, f"{first} to {last}"
    else:
        if not any(draft.availability.has(key) for key in ("region", "tv_raster")):
            remedy = "add availability.region or availability.tv_raster, which numbers them"
            yield Fault("capacity.channels", "channels without a raster", remedy)
        return
    for index, name in channels:
        if name not in known:
            place = f"capacity.channels[{index}]"
            yield Fault(place, f"channel {name} is not on the raster", f"use {use}")


def _mixes(draft: Draft) -> Iterator[Fault]:
    mixes = draft.capacity.items("mixes")
    if not mixes:
        return
    known = draft.names["profiles"] or _classes(draft)
    for index, pair in mixes:
        place = f"capacity.mixes[{index}]"
        for name in pair:
            if name not in known:
                remedy = nearest(name, known)
                yield Fault(place, f"the profile {name!r} is not defined", remedy)
        if pair[0] == pair[1]:
            yield Fault(place, f"{pair[0]!r} is mixed with itself", "name two profiles")


def _classes(draft: Draft) -> list[str]:
    """List the classes of equipment, which stand in where a study has no profiles."""
    # Equipment reads its figures as a study does.
    from sidon.equipment import classes

    own = [part.get("name") for part in draft.classes.values()]
    return [*classes(), *(name for name in own if isinstance(name, str))]
