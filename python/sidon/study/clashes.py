"""Two locks on one frequency in one zone: told also where a study holds other faults."""

from __future__ import annotations

from collections.abc import Iterator

from sidon._schema import Part
from sidon.exceptions import Fault
from sidon.study.draft import Draft
from sidon.study.schema import Demand, Window
from sidon.units import mhz_text

__all__ = ["lock_clashes"]


def lock_clashes(draft: Draft) -> Iterator[Fault]:
    """Find locks on one frequency that share a zone and time, as far as can be read.

    In a study without other faults every clash is found by the check itself, products included.

    Parameters
    ----------
    draft : Draft
        What could be read of a study.

    Yields
    ------
    Fault
        One for each link whose lock is taken already.
    """
    rows: dict[str, Part[Demand]] = {}
    for row in draft.demand.values():
        if row.whole is not None:
            rows |= dict.fromkeys([*row.whole.link_ids, *row.whole.spare_ids], row)
    windows = {w.whole.name: w.whole for w in draft.windows.values() if w.whole is not None}
    taken: dict[int, list[str]] = {}
    for link, hz in draft.locks.items():
        if link not in rows:
            continue
        for other in taken.setdefault(hz, []):
            if _share(rows[link], rows[other], windows, draft):
                what = f"contradictory locks: {other!r} is locked to {mhz_text(hz)} MHz already"
                yield Fault(f"locks.{link}", what, "move one of them, or drop a lock")
                break
        taken[hz].append(link)


def _share(a: Part[Demand], b: Part[Demand], windows: dict[str, Window], draft: Draft) -> bool:
    if a.get("zone") != b.get("zone"):
        return False
    profiles = [draft.profile(row.get("profile")) for row in (a, b)]
    if not any(profile and profile.get("separation") for profile in profiles):
        return False
    if not a.get("windows") or not b.get("windows"):
        return True
    first, second = ([windows.get(n) for n in row.get("windows")] for row in (a, b))
    return any(
        v is not None and w is not None and v.start < w.end and w.start < v.end
        for v in first
        for w in second
    )
