"""What a reader of the numbers must mind: reasons, estimates, dates, sources, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sidon.capacity.limits import limit_notes
from sidon.capacity.lines import Line
from sidon.exceptions import StudyError
from sidon.plan.caution import cautions, figures
from sidon.study.scans import scan_cautions

if TYPE_CHECKING:
    from sidon.spectrum.region import Band
    from sidon.study import Study

__all__ = ["explained", "notes_of"]

_ESTIMATES = (
    "The numbers are estimates, not permissions: what is free here follows from what the study "
    "says, and stands only once a scan on site, with the antennas of the show, confirms it."
)
_SEARCHED = (
    "A number that fits is what the search found in its time, and may grow with more of it, up to "
    "the most that can; so may a verdict change. Each list to tune is one of many that are as "
    "valid, not the quietest of them: prefer channels far from strong TV (sidon place) and a scan."
)
_ALONE = (
    "Each row counts one kind alone in the air, clear of foreign carriers; what shares the air "
    "takes from the same spectrum: see the mixes, and plan. Locks are not considered."
)
_APART = (
    "In-ear transmitters are strong and near: a block of their own, 8 to 10 MHz from microphones, "
    "is common practice. The mixes keep the rules of both and no such block, and count two kinds "
    "at a time."
)


def explained(study: Study, spans: Sequence[tuple[int, int]]) -> Study:
    """Let a study whose region says what is available say it of some ranges.

    Parameters
    ----------
    study : Study
        The study.
    spans : sequence of (int, int)
        What is tuned, in hertz.

    Returns
    -------
    Study
        The same, where it names ranges or no region. Else one in which what is not available has
        its reason: not allowed, in need of a licence, or not checked. What is free is the same.
    """
    fields = study.to_dict()
    availability = fields["availability"]
    if not availability.get("region") or availability.get("ranges") or not spans:
        return study
    availability["ranges"] = [[f"{low} Hz", f"{high} Hz"] for low, high in spans]
    try:
        return study.from_dict(fields)
    except StudyError:
        # No range that is tuned may be used at all; then what the region offers says enough.
        return study


def notes_of(
    study: Study,
    lines: Sequence[Line],
    free: Sequence[tuple[int, int]],
    rules: Sequence[Band],
) -> list[str]:
    """List what to mind.

    Parameters
    ----------
    study : Study
        The study.
    lines : sequence of Line
        The rows of the answer.
    free : sequence of (int, int)
        What is free, in hertz.
    rules : sequence of Band
        The rules of the region that hold.

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
        _SEARCHED,
        _ALONE,
        *([_APART] if len(asked) > 1 else []),
        f"What is taken and what is free: {source} ({dated}).",
        *limit_notes(lines, free, rules),
        *place,
        *scan_cautions(availability, [line.profile for line in lines]),
        *figures((p.name, p.source, p.as_of) for p in profiles.values()),
        licences,
        *hearing,
    ]
