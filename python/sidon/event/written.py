"""A repaired plan written down as a plan document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sidon.plan.document import AssignmentRecord, PlanDocument, RefusedRecord, SearchRecord
from sidon.plan.refusal import reason
from sidon.result import REFUSED

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sidon.event.assess import Scene

__all__ = ["repaired_document"]

_NOTHING_LEFT = "nothing is left of what its profile can tune"


def repaired_document(
    scene: Scene,
    hertz: NDArray[np.int64],
    *,
    status: str,
    stop_reason: str,
    seed: int,
    seconds: float,
) -> PlanDocument:
    """Write down where everybody stands after a repair.

    Parameters
    ----------
    scene : Scene
        The links.
    hertz : numpy.ndarray
        Where each stands; -1 for one without a carrier.
    status : str
        ``"optimal"`` or ``"feasible"``.
    stop_reason : str
        Why the search ended.
    seed, seconds : int, float
        How it was searched for.

    Returns
    -------
    PlanDocument
        Self-contained.
    """
    import sidon

    running = sidon.versions()
    after = scene.draft.after
    served = [
        row.model_copy(update={"frequency_hz": int(hz)})
        for row, hz in zip(scene.records, hertz, strict=True)
        if hz != REFUSED
    ]
    lost = [_refused(after.assignments[i], _NOTHING_LEFT) for i in scene.lost]
    lost += _without_carrier(scene, hertz)
    return after.model_copy(
        update={
            "assignments": served,
            "refused": [*after.refused, *lost],
            "seed": seed,
            "search": SearchRecord(
                objective="max-service",
                method="repair",
                status=status,
                stop_reason=stop_reason,
                seconds=seconds,
            ),
            "versions": {name: running[name] for name in ("sidon", "python", "numpy", "pydantic")},
        }
    )


def _without_carrier(scene: Scene, hertz: NDArray[np.int64]) -> list[RefusedRecord]:
    import numpy as np

    from sidon.solve import refusals

    # Links of one profile, zone and time that are all off the air are blocked alike.
    def alike(link: int) -> tuple[object, ...]:
        row = scene.records[link]
        return row.profile, row.zone, tuple(row.windows), row.link in scene.draft.avoided

    column = np.concatenate([hertz, scene.present[scene.links :]])
    off = np.flatnonzero(hertz == REFUSED).tolist()
    first: dict[tuple[object, ...], int] = {}
    for link in off:
        first.setdefault(alike(link), link)
    blocked = refusals(scene.plain, column, list(first.values())) if first else []
    reasons = {key: reason(why) for key, why in zip(first, blocked, strict=True)}
    return [_refused(scene.records[link], reasons[alike(link)]) for link in off]


def _refused(row: AssignmentRecord, why: str) -> RefusedRecord:
    return RefusedRecord(reason=why, **row.model_dump(exclude={"frequency_hz"}))
