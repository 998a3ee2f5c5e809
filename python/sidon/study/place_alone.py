"""The report on the place of a study file, also where no band may be used as it is."""

from __future__ import annotations

from pathlib import Path

from sidon._schema import Part
from sidon.spectrum.report import PlaceReport
from sidon.study.attach import attach
from sidon.study.place import place_faults, report_at
from sidon.study.schema import Availability, Place, StudyModel
from sidon.study.source import read_file

__all__ = ["place_alone"]


def place_alone(path: str | Path) -> tuple[PlaceReport, str] | None:
    """Report on the place of a study without asking for anything usable there.

    Parameters
    ----------
    path : str or Path
        The study file.

    Returns
    -------
    (PlaceReport, str) or None
        The report and the name of the place; None where the study holds other faults.

    Raises
    ------
    OSError, StudyError
        When the file cannot be read.
    """
    mapping, unread = attach(read_file(path), Path(path).parent)
    study = Part(StudyModel, mapping)
    availability, place = study.part("availability", Availability), study.part("place", Place).whole
    whole = availability.whole
    if unread or whole is None or place is None or whole.region is None:
        return None
    region = whole.region.region
    if region is None or place_faults(mapping, availability, usable=False):
        return None
    return report_at(region, whole, place), place.name
