"""The files a command reads: a study and all that it names, which no output may replace."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from sidon.exceptions import StudyError
from sidon.study.attach import SLOTS, Slot
from sidon.study.source import read_file

__all__ = ["inputs_of"]


def inputs_of(study: Path, name: str = "the study") -> dict[str, Path]:
    """List a study file and every file it names.

    Parameters
    ----------
    study : Path
        The study file; what cannot be read names nothing.
    name : str, default "the study"
        What to call it.

    Returns
    -------
    dict of str to Path
        Files by what they are.
    """
    found = {name: study}
    try:
        mapping = read_file(study)
    except (StudyError, OSError):
        return found
    for slot in SLOTS:
        for file in _named(mapping, slot):
            found[f"{file}, which {name} reads"] = study.parent / file
    return found


def _named(mapping: Mapping[str, Any], slot: Slot) -> Iterator[str]:
    value: Any = mapping
    for key in slot.keys:
        value = value.get(key) if isinstance(value, Mapping) else None
    for entry in value if slot.many and isinstance(value, list) else [value]:
        file = entry.get("file") if isinstance(entry, Mapping) else entry
        if isinstance(file, str) and slot.is_file(file) and "\0" not in file:
            yield file
