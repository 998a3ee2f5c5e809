"""Files of scans that a study names: read, judged, and kept small enough to stand in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

import numpy as np
from pydantic import ValidationError

from sidon._faults import schema_faults
from sidon.exceptions import Fault, InvalidProblemError, StudyError, TooLargeError, UnreadableError
from sidon.spectrum.scan import Scan
from sidon.spectrum.scan.options import follows_from, sound_options
from sidon.spectrum.scan.planning import CLEAR_HZ
from sidon.study.scan_schema import ScanOptions

__all__ = ["read_scan_file", "scan_option_faults"]

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
    sound, faults, bad = _options(name, options)
    reading: dict[str, Any] = {key: getattr(sound, key) for key in _READING}
    scan = None
    try:
        scan = Scan.from_text(text, source=name, name=PurePath(name).stem, **reading)
    except InvalidProblemError as error:
        faults += [_named(name, fault) for fault in error.faults if not follows_from(fault, bad)]
    except UnreadableError as error:
        faults.append(Fault(name, error.why, error.remedy))
    except TooLargeError as error:
        faults.append(Fault(name, f"{error.what}: {error.why}", error.remedy))
    if faults or scan is None:
        raise StudyError(faults)
    return _content(scan, sound, name)


def scan_option_faults(name: str, options: Mapping[str, Any]) -> list[Fault]:
    """Find what is wrong with the options of a scan whose file cannot be read.

    Parameters
    ----------
    name : str
        What faults call the file.
    options : mapping
        What stands beside the name in the study.

    Returns
    -------
    list of Fault
        All of them.
    """
    return _options(name, options)[1]


def _options(name: str, options: Mapping[str, Any]) -> tuple[ScanOptions, list[Fault], set[str]]:
    """Read the options; those that hold faults are left out, and named."""
    given = {key: value for key, value in options.items() if key != "file"}
    faults: list[Fault] = []
    bad: set[str] = set()
    try:
        sound = ScanOptions.model_validate(given)
    except ValidationError as error:
        found = schema_faults(error, ScanOptions)
        faults += [Fault(_place(name, fault), fault.what, fault.remedy) for fault in found]
        bad = {str(detail["loc"][0]) for detail in error.errors() if detail["loc"]}
        sound = ScanOptions.model_validate(
            {key: value for key, value in given.items() if key not in bad}
        )
    reading = {key: value for key in _READING if (value := getattr(sound, key)) is not None}
    _, unsound = sound_options(reading)
    faults += [_named(name, fault) for fault in unsound]
    worse = {fault.place for fault in unsound}
    kept = {key: value for key, value in given.items() if key not in bad | worse}
    return ScanOptions.model_validate(kept), faults, bad | worse


def _place(name: str, fault: Fault) -> str:
    return f"availability.scans ({name}), {fault.place}"


def _named(name: str, fault: Fault) -> Fault:
    place = fault.place if name in fault.place else f"{name}, {fault.place}"
    # An option of a study is a key, not an argument.
    return Fault(place, fault.what, re.sub(r"\b(frequency|level)=(?!')", r"\1 = ...", fault.remedy))


def _content(scan: Scan, options: ScanOptions, source: str) -> dict[str, Any]:
    rule: dict[str, Any] = {
        "above_db": options.above_db,
        "threshold_dbm": options.threshold_dbm,
        "false_hits": options.false_hits,
        "bridge": options.bridge,
    }
    clear = CLEAR_HZ if options.widen is None else 0
    exclusions = scan.exclusions(widen=options.widen or 0, clear=clear, **rule)
    occupied = scan.occupied(**rule)
    if len(occupied) > _MOST_EXCLUSIONS:
        what = f"{len(occupied):,} parts stand above the threshold, more than any scan shows"
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
        "occupied_hz": [[row.low_hz, row.high_hz] for row in occupied],
    }
