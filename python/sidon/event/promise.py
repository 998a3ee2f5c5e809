"""The promise of the spares: any one link may move to any spare of its zone that serves it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sidon.plan.document import PlanDocument
    from sidon.plan.recount import Carrier

__all__ = ["promised_spares"]


def promised_spares(document: PlanDocument, carrier: Carrier) -> list[str]:
    """List the spares kept for a link: dedicated ones of its kind, shared ones of its zone.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    carrier : Carrier
        The link.

    Returns
    -------
    list of str
        Names; none for a spare.
    """
    if carrier.spare or carrier.foreign:
        return []
    return [
        row.link
        for row in document.assignments
        if row.spare
        and row.zone == carrier.zone
        and (
            row.shared
            or (row.profile == carrier.profile and set(row.windows) == set(carrier.windows))
        )
    ]
