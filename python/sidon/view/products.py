"""Where the third-order products of one zone fall while most of its links are on the air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidon.plan.air import fully_coupled, instants, on_air
from sidon.plan.document import PlanDocument
from sidon.plan.recount import Carrier, carriers

__all__ = ["Moment", "busiest_moment", "product_counts"]

Hertz = NDArray[np.int64]


@dataclass(frozen=True)
class Moment:
    """The carriers that are on the air at one instant.

    Parameters
    ----------
    label : str
        The windows that are open, or "" when every link is always on the air.
    carriers : tuple of Carrier
        Those on the air.
    """

    label: str
    carriers: tuple[Carrier, ...]


def busiest_moment(document: PlanDocument, zone: str) -> Moment:
    """Find the instant at which most carriers of a zone are on the air.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    zone : str
        One of its zones.

    Returns
    -------
    Moment
        The first of the busiest instants, with the carriers of all zones.
    """
    everyone = carriers(document)
    best: tuple[int, Moment] | None = None
    for instant in instants(everyone):
        now = tuple(c for c in everyone if on_air(c, instant))
        size = sum(carrier.zone == zone for carrier in now)
        if best is None or size > best[0]:
            names = {
                name
                for carrier in now
                for name, (start, end) in zip(carrier.windows, carrier.spans, strict=True)
                if start <= instant < end
            }
            best = size, Moment(", ".join(sorted(names)), now)
    return best[1] if best else Moment("", ())


def product_counts(
    document: PlanDocument, moment: Moment, zone: str, edges_hz: Hertz
) -> dict[str, Hertz]:
    """Count the third-order products that reach a zone, in bins.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    moment : Moment
        Who is on the air.
    zone : str
        The zone where they fall.
    edges_hz : numpy.ndarray
        Edges of the bins in hertz, ascending.

    Returns
    -------
    dict of str to numpy.ndarray
        Counts per bin for "2A-B" and "A+B-C". O(n^3) in the carriers that mix and reach the zone.
    """
    reach = fully_coupled(document)
    mixing = {profile.name for profile in document.profiles if profile.mixes}
    group = [
        c for c in moment.carriers if c.profile in mixing and frozenset({c.zone, zone}) in reach
    ]
    hertz = np.array([c.frequency_hz for c in group], dtype=np.int64)
    together = np.array(
        [[frozenset({a.zone, b.zone}) in reach for b in group] for a in group], dtype=bool
    ).reshape(len(group), len(group))
    counts = {form: np.zeros(len(edges_hz) - 1, dtype=np.int64) for form in ("2A-B", "A+B-C")}
    for a in range(len(group)):
        others = together[a].copy()
        others[a] = False
        counts["2A-B"] += np.histogram((2 * hertz[a] - hertz)[others], edges_hz)[0]
        # A+B-C with b after a, and c neither of the two.
        later = others.copy()
        later[: a + 1] = False
        b = np.flatnonzero(later)
        triples = together[b] & others
        triples[np.arange(len(b)), b] = False
        products = (hertz[a] + hertz[b])[:, None] - hertz
        counts["A+B-C"] += np.histogram(products[triples], edges_hz)[0]
    return counts
