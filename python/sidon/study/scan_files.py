"""Files of scans that a study names: read, judged, and kept small enough to stand in it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

import numpy as np
from pydantic import ValidationError

from sidon._faults import schema_faults
from sidon.exceptions import Fault, InvalidProblemError, StudyError, TooLargeError, UnreadableError
from sidon.spectrum.scan import Scan
from sidon.study.scan_schema import ScanOptions

__all__ = ["read_scan_file"]

_STEP_HZ = 25_000
_MOST_CELLS = 200_000
_MOST_EXCLUSIONS = 2_000
_READING = (
    *("frequency", "level", "sweep", "frequency_unit", "level_unit", "delimiter", "decimal"),
    *("resolution_bandwidth", "averages", "averaged_in", "held", "taken", "spot", "antenna"),
)


def read_scan_file(text: str, name: str, options: Mapping[str, Any]) -> dict[str, Any]:
    """Read a scan, and keep of it what planning needs.

    Parameters
    ----------
    text, name : str
        What the file holds, and what faults call it.
    options : mapping
        What stands beside the name in the study: the fields of `ScanOptions`.

    Returns
    -------
    dict
        The fields of `HeardContent`, as plain data.

    Raises
    ------
    StudyError
        When options or file hold faults; all are listed.
    """
    given = {key: value for key, value in options.items() if key != "file"}
    try:
        sound = ScanOptions.model_validate(given)
    except ValidationError as error:
        faults = schema_faults(error, ScanOptions)
        placed = [
            Fault(f"availability.scans ({name}), {f.place}", f.what, f.remedy) for f in faults
        ]
        raise StudyError(placed) from None
    reading: dict[str, Any] = {key: getattr(sound, key) for key in _READING}
    try:
        scan = Scan.from_text(text, source=name, name=PurePath(name).stem, **reading)
    except InvalidProblemError as error:
        raise StudyError([_named(name, fault) for fault in error.faults]) from None
    except UnreadableError as error:
        raise StudyError([Fault(name, error.why, error.remedy)]) from None
    except TooLargeError as error:
        raise StudyError([Fault(name, f"{error.what}: {error.why}", error.remedy)]) from None
    return _content(scan, sound, name)


def _named(name: str, fault: Fault) -> Fault:
    place = fault.place if name in fault.place else f"{name}, {fault.place}"
    # An option of a study is a key, not an argument.
    return Fault(place, fault.what, fault.remedy.replace("=, by", " = ..., by"))


def _content(scan: Scan, options: ScanOptions, source: str) -> dict[str, Any]:
    rule: dict[str, Any] = {
        "above_db": options.above_db,
        "threshold_dbm": options.threshold_dbm,
        "false_hits": options.false_hits,
        "bridge": options.bridge,
    }
    exclusions = scan.exclusions(widen=options.widen, **rule)
    if len(exclusions) > _MOST_EXCLUSIONS:
        what = f"{len(exclusions):,} parts stand above the threshold, more than any scan shows"
        raise StudyError([Fault(source, what, "raise above_db or threshold_dbm, or widen bridge")])
    low, high = scan.spans[0][0], scan.spans[-1][1]
    step = max(_STEP_HZ, -(-(high - low) // _MOST_CELLS))
    first = low - low % step
    middles = np.arange(first, high, step, dtype=np.int64) + step // 2
    excess = scan.excess_db(middles, bandwidth=step)
    cells = [None if np.isnan(db) else round(db) for db in excess.tolist()]
    return {
        "name": scan.name,
        "heard_hz": [list(span) for span in scan.spans],
        "exclusions": [
            {"low_hz": row.low_hz, "high_hz": row.high_hz, "reason": row.reason}
            for row in exclusions
        ],
        "first_hz": first,
        "step_hz": step,
        "excess_db": cells,
        "cautions": list(scan.cautions(**rule)),
    }
