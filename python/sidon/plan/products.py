"""The products of a plan near its carriers: which hit, which miss narrowly."""

from __future__ import annotations

from itertools import chain

import numpy as np

from sidon._arrays import Distance, distance
from sidon._columns import Columns
from sidon.exceptions import Fault, InvalidProblemError
from sidon.plan.air import air_groups
from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier, carriers

__all__ = ["plan_hits"]

_DTYPES = {
    "form": np.str_,
    "sources": np.str_,
    "victim": np.str_,
    "product_hz": np.int64,
    "offset_hz": np.int64,
    "guard_hz": np.int64,
}


def plan_hits(document: PlanDocument, *, margin_hz: Distance = 0) -> Columns:
    """List the products nearer to a carrier than its guard plus a margin.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    margin_hz : int or str, default 0
        Widens every guard; a text carries its unit.

    Returns
    -------
    Columns
        ``form``, ``sources``, ``victim``, ``product_hz``, ``offset_hz``, ``guard_hz``.

    Raises
    ------
    InvalidProblemError
        When the margin is no distance, or negative.
    """
    margin = distance(margin_hz, "margin_hz")
    if margin < 0:
        what = f"{margin} Hz is negative"
        raise InvalidProblemError([Fault("margin_hz", what, "give 0 or more")])
    everyone = carriers(document)
    guards = {profile.name: profile.guards_hz for profile in document.profiles}
    mixing = {profile.name for profile in document.profiles if profile.mixes}
    forms = sorted(set(chain.from_iterable(guards.values())))
    rows: dict[tuple[str, tuple[int, ...], int], tuple[int, int]] = {}
    for group in air_groups(document, everyone):
        found = _hits([everyone[i] for i in group], guards, forms, margin)
        for form, letters, victim, product, offset in found.rows():
            sources = tuple(group[letter] for letter in letters)
            if all(everyone[source].profile in mixing for source in sources):
                rows[form, sources, group[victim]] = product, offset
    table = [
        (
            form,
            ", ".join(everyone[source].name for source in sources),
            everyone[victim].name,
            product,
            offset,
            guards[everyone[victim].profile][form],
        )
        for (form, sources, victim), (product, offset) in rows.items()
    ]
    table.sort(key=lambda row: (abs(row[4]) - row[5], *row))
    return Columns(
        {
            name: np.array([row[position] for row in table], dtype=dtype)
            for position, (name, dtype) in enumerate(_DTYPES.items())
        }
    )


def _hits(
    group: list[Carrier], guards: dict[str, dict[str, int]], forms: list[str], margin_hz: int
) -> Columns:
    """Find the hits within one group, with the guard of each victim."""
    import sidon

    widths: dict[str, list[int]] = {}
    for form in forms:
        own = [guards[carrier.profile].get(form, 0) for carrier in group]
        widths[form] = [guard + margin_hz if guard else 0 for guard in own]
    return sidon.hits([carrier.frequency_hz for carrier in group], guards=widths)
