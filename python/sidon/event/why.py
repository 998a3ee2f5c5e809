"""Why links cannot stay where they stand, each in a few words."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from sidon.event.desk import Desk, Room
from sidon.event.promise import promised_spares
from sidon.result import REFUSED
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.event.assess import Broken, Scene
    from sidon.plan.document import AssignmentRecord, PlanDocument
    from sidon.result import Violation

__all__ = ["reasons", "reserve_notes"]


def reasons(broken: Broken) -> dict[str, str]:
    """Say of each link that takes part in something broken why it cannot stay.

    Parameters
    ----------
    broken : Broken
        What stands in the way of everybody staying.

    Returns
    -------
    dict of str to str
        By name; the first thing found for each.
    """
    scene = broken.scene
    after, hertz = scene.draft.after, scene.draft.hertz
    gone = [i for i in scene.lost if hertz[i] != REFUSED] + [scene.rows[i] for i in scene.barred]
    rows = [after.assignments[i] for i in gone]
    found = {row.link: _barred(scene, row, hertz[i]) for i, row in zip(gone, rows, strict=True)}
    for violation in broken.violations:
        for i in violation.links:
            if i < scene.links:
                found.setdefault(scene.names[i], _violated(scene, violation, i))
    return found


def _barred(scene: Scene, row: AssignmentRecord, hz: int) -> str:
    if any(low < hz < high for low, high in scene.draft.avoided.get(row.link, [])):
        return "interfered with"
    after = scene.draft.after
    half = -(-next(p.bandwidth_hz for p in after.profiles if p.name == row.profile) // 2)
    spectrum = after.spectrum
    if spectrum is not None:
        guard = spectrum.edge_guard_hz + half
        for tv in spectrum.occupied:
            if tv.low_hz - guard < hz < tv.high_hz + guard:
                return f"channel {tv.channel} is on the air"
        for gone in spectrum.exclusions:
            if gone.low_hz - half < hz < gone.high_hz + half:
                return f"{mhz_text(gone.low_hz)}-{mhz_text(gone.high_hz)} MHz: {gone.reason}"
    return f"{row.profile} may not stand there"


def _violated(scene: Scene, violation: Violation, link: int) -> str:
    names = [scene.names[i] for i in violation.links]
    own = scene.names[link]
    others = dict.fromkeys(name for name in names if name != own)
    if violation.kind == "separation":
        other = next(iter(others), own)
        ours = f"interference on {own}"
        hit = other == ours or other.startswith(f"{ours} (")
        return "interfered with" if hit else f"too close to {other}"
    victim = names[-1]
    if own == victim:
        return f"hit by a product of {', '.join(others)}"
    return f"has part in a product on {victim}"


def reserve_notes(document: PlanDocument, links: Collection[str]) -> dict[str, str]:
    """Name for links that were hit the first spare each could take instead.

    Parameters
    ----------
    document : PlanDocument
        The repaired plan.
    links : collection of str
        Their names.

    Returns
    -------
    dict of str to str
        By name; nothing for those without a spare that is kept for them and clean.
    """
    desk = Desk(document)
    found = {}
    for link in links:
        at = desk.index.get(link)
        if at is None:
            continue
        spares = [desk.index[name] for name in promised_spares(document, desk.carriers[at])]
        clean = Room(desk, at).clear_without(spares)
        for spare, good in zip(spares, clean, strict=True):
            if good:
                carrier = desk.carriers[spare]
                where = f"{carrier.name} on {mhz_text(carrier.frequency_hz)} MHz"
                found[link] = f"its spare {where} stays in reserve"
                break
    return found
