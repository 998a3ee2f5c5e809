"""What a reader of the numbers must mind: reasons, estimates, dates, sources, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sidon.capacity.lines import Line
from sidon.exceptions import StudyError
from sidon.plan.caution import cautions, figures
from sidon.study.scans import scan_cautions

if TYPE_CHECKING:
    from sidon.study import Study

__all__ = ["explained", "notes_of"]

_ESTIMATES = (
    "The numbers are estimates, not permissions: what is free here follows from what the study "
    "says, and stands only once a scan on site, with the antennas of the show, confirms it."
)
_ALONE = (
    "Each row counts one kind alone in the air, clear of foreign carriers; what shares the air "
    "takes from the same spectrum: see the mixes, and plan. Locks are not considered."
)
_APART = (
    "In-ear transmitters are strong and near: a block of their own, 8 to 10 MHz from microphones, "
    "is common practice. The mixes keep the rules of both and no such block."
)


def explained(study: Study, lines: Sequence[Line]) -> Study:
    """Let a study whose region says what is available say it of everything that is tuned.

    Parameters
    ----------
    study : Study
        The study.
    lines : sequence of Line
        The rows, with what they tune.

    Returns
    -------
    Study
        The same, where it names ranges or no region. Else one in which what is not available has
        its reason: not allowed, in need of a licence, or not checked. What is free is the same.
    """
    fields = study.to_dict()
    availability = fields["availability"]
    if not availability.get("region") or availability.get("ranges") or not lines:
        return study
    spans = sorted({span for line in lines for span in line.profile.ranges})
    availability["ranges"] = [[f"{low} Hz", f"{high} Hz"] for low, high in spans]
    try:
        return study.from_dict(fields)
    except StudyError:
        # No range that is tuned may be used at all; then what the region offers says enough.
        return study


def notes_of(study: Study, lines: Sequence[Line]) -> list[str]:
    """List what to mind.

    Parameters
    ----------
    study : Study
        The study.
    lines : sequence of Line
        The rows of the answer.

    Returns
    -------
    list of str
        Sentences, each with the date and the source of what it speaks of.
    """
    availability = study.model.availability
    source = availability.source or "no source given"
    dated = availability.as_of or "without a date"
    profiles = {line.profile.name: line.profile for line in lines}
    kinds = [f"{profile.name} {profile.kind}" for profile in profiles.values()]
    _, licences, *hearing = cautions(kinds)
    # The first of them says again that these are estimates.
    place = study.place_report().cautions[1:] if availability.region is not None else ()
    asked = {line.in_ear for line in lines if line.need.asked}
    return [
        _ESTIMATES,
        _ALONE,
        *([_APART] if len(asked) > 1 else []),
        f"What is taken and what is free: {source} ({dated}).",
        *place,
        *scan_cautions(availability, [line.profile for line in lines]),
        *figures((p.name, p.source, p.as_of) for p in profiles.values()),
        licences,
        *hearing,
    ]
