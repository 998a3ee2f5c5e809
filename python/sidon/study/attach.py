"""Files named in a study: read once, so that the study holds all it needs and stands alone."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sidon._files import what_else
from sidon.event.requests.table import read_requests
from sidon.exceptions import Fault, StudyError
from sidon.study.place_files import (
    UNREAD,
    ignored_columns,
    read_region_file,
    read_station_file,
    read_station_list,
    sound_stations,
)
from sidon.study.scan_files import read_scan_file, scan_option_faults
from sidon.study.source import read_json, read_toml

__all__ = ["MOST_BYTES", "SLOTS", "AttachedFile", "Slot", "attach", "read_table"]

MOST_BYTES = 256 * 1024 * 1024
"""No attached file may be larger, whatever its slot allows."""

_MOST_FILES = 1000


@dataclass(frozen=True)
class AttachedFile:
    """A file named in a study, as its reader is given it.

    Parameters
    ----------
    name : str
        As the study names it; begin the place of a fault with it, such as ``name, line 3``.
    text : str
        What it holds, without a byte-order mark.
    options : mapping
        What else stands beside the name in the study.
    """

    name: str
    text: str
    options: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Slot:
    """A key of the study under which a file may be named.

    ``key = "name.csv"`` and ``key = { file = "name.csv", option = ... }`` become
    ``key = { file = "name.csv", option = ..., content = what was read }``; what has content
    already, or names no file, is left as it is.

    Parameters
    ----------
    keys : tuple of str
        The way to the key from the top.
    content : str
        The key that takes what was read: plain data, ready for JSON.
    read : callable
        From the file to its content; raises `StudyError` with faults placed in the file.
    many : bool, default False
        Whether a list may stand there, each entry of which is as above.
    is_file : callable, optional
        Whether a text names a file; any text does when not given.
    most_bytes : int, default 64 MiB
        No file may be larger.
    read_list : callable, optional
        Makes the content of a list or data frame that stands there in place of a file; given that
        and its place.
    unread : object, optional
        What stands for a file that cannot be read; key or entry is left out when not given.
    rest : callable, optional
        From the error of a reader to what is sound of the content; nothing when not given.
    more : callable, optional
        From the file to further keys beside the content.
    judge : callable, optional
        Given the name and the options of a file that cannot be opened, the faults of the options.
    """

    keys: tuple[str, ...]
    content: str
    read: Callable[[AttachedFile], object]
    many: bool = False
    is_file: Callable[[str], bool] = lambda _: True
    most_bytes: int = 64 * 1024 * 1024
    read_list: Callable[[object, str], object] | None = None
    unread: object = None
    judge: Callable[[str, Mapping[str, Any]], list[Fault]] | None = None
    rest: Callable[[StudyError], object] | None = None
    more: Callable[[AttachedFile], Mapping[str, Any]] | None = None

    @property
    def place(self) -> str:
        """The key as faults write it."""
        return ".".join(self.keys)


def read_table(file: AttachedFile) -> object:
    """Read TOML or JSON, as the name of the file says.

    Parameters
    ----------
    file : AttachedFile
        Its name ends in ``.toml`` or ``.json``.

    Returns
    -------
    dict
        What it says, fractions as `Decimal`.

    Raises
    ------
    StudyError
        When it is broken; the place names file and line.
    """
    reader = {".toml": read_toml, ".json": read_json}.get(Path(file.name).suffix.lower())
    if reader is None:
        what = f"the name {file.name!r} does not say what it holds"
        raise StudyError([Fault(file.name, what, "name it .toml or .json, as what it holds")])
    return reader(file.text, name=file.name)


def _read_equipment(file: AttachedFile) -> list[dict[str, Any]]:
    # Equipment reads its figures as a study does.
    from sidon.equipment.catalogue import classes_in

    found = classes_in(read_table(file), file.name)
    return [entry.model_dump(mode="json", exclude_none=True) for entry in found]


SLOTS: tuple[Slot, ...] = (
    Slot(("requests",), "rows", read_requests),
    Slot(("equipment",), "classes", _read_equipment, many=True, unread=UNREAD),
    Slot(
        ("availability", "region"),
        "data",
        lambda file: read_region_file(file.text, file.name),
        is_file=lambda name: name.lower().endswith(".toml"),
        unread=UNREAD,
    ),
    Slot(
        ("availability", "stations"),
        "rows",
        lambda file: read_station_file(file.text, file.name, file.options),
        read_list=read_station_list,
        rest=sound_stations,
        more=lambda file: ignored_columns(file.text, file.options),
    ),
    Slot(
        ("availability", "scans"),
        "heard",
        lambda file: read_scan_file(file.text, file.name, file.options),
        many=True,
        judge=scan_option_faults,
        unread=UNREAD,
    ),
)
"""Every key of a study under which a file may be named."""


def attach(
    mapping: object, folder: str | Path | None = None, *, slots: Sequence[Slot] | None = None
) -> tuple[object, list[Fault]]:
    """Read every file that a study names, and put what it holds in its place.

    Parameters
    ----------
    mapping : mapping
        A study as written; it is not changed. Anything else is handed back as it is.
    folder : str or Path, optional
        What names of files are relative to; the working directory when not given.
    slots : sequence of Slot, optional
        Where files may be named; `SLOTS` when not given.

    Returns
    -------
    mapping : mapping
        The study with what was read. An entry whose file cannot be read is left out, so that it is
        not complained of twice.
    faults : list of Fault
        Every file that cannot be read, and every fault its reader found, placed in the file.
    """
    if not isinstance(mapping, Mapping):
        return mapping, []
    faults: list[Fault] = []
    whole: Mapping[str, Any] = mapping
    for slot in SLOTS if slots is None else slots:
        whole = _within(whole, slot, slot.keys, Path(folder or "."), faults)
    return whole, faults


def _within(
    table: Mapping[str, Any], slot: Slot, keys: Sequence[str], folder: Path, faults: list[Fault]
) -> Mapping[str, Any]:
    key, *deeper = keys
    value = table.get(key)
    if deeper:
        if not isinstance(value, Mapping):
            return table
        return {**table, key: _within(value, slot, deeper, folder, faults)}
    if key not in table:
        return table
    if not (slot.many and isinstance(value, list | tuple)):
        read = list(_entry(value, slot, slot.place, folder, faults))
        if not read and slot.unread is not None and not slot.many:
            read = [slot.unread]
        rest = {name: kept for name, kept in table.items() if name != key}
        if read and read[0] is value:
            return table
        return {**rest, key: read[0]} if read else rest
    # What stands for an unread entry keeps the others at their index.
    gap = [] if slot.unread is None else [slot.unread]
    files = sum(_names_file(entry, slot) for entry in value)
    if files > _MOST_FILES:
        what = f"{files:,} files are named, more than {_MOST_FILES:,}"
        faults.append(Fault(slot.place, what, "join some of them"))
        return {name: kept for name, kept in table.items() if name != key}
    found = [
        read
        for index, entry in enumerate(value)
        for read in list(_entry(entry, slot, f"{slot.place}[{index}]", folder, faults)) or gap
    ]
    return {**table, key: found}


def _names_file(entry: object, slot: Slot) -> bool:
    if isinstance(entry, Mapping):
        return slot.content not in entry and isinstance(entry.get("file"), str)
    return isinstance(entry, str) and slot.is_file(entry)


def _entry(
    entry: Any,  # noqa: ANN401 - as written, of any type
    slot: Slot,
    place: str,
    folder: Path,
    faults: list[Fault],
) -> Iterator[Any]:
    if slot.read_list is not None and not isinstance(entry, str | Mapping | None):
        try:
            yield {slot.content: slot.read_list(entry, place)}
        except StudyError as error:
            faults.extend(error.faults)
        return
    if not _names_file(entry, slot):
        yield entry
        return
    options = dict(entry) if isinstance(entry, Mapping) else {"file": entry}
    name = options["file"]
    text = _text(name, place, folder, min(slot.most_bytes, MOST_BYTES))
    if isinstance(text, Fault):
        faults.append(text)
        faults.extend(slot.judge(name, options) if slot.judge is not None else ())
        return
    try:
        content = slot.read(AttachedFile(name, text, options))
    except StudyError as error:
        faults.extend(error.faults)
        # What could be read all the same is checked along with the rest.
        content = slot.rest(error) if slot.rest is not None else None
        if not content:
            return
    more = {} if slot.more is None else slot.more(AttachedFile(name, text, options))
    yield {**options, slot.content: content, **more}


def _text(name: str, place: str, folder: Path, most_bytes: int) -> str | Fault:
    """Read a plain file whole, or say why not; nothing but a plain file is ever opened."""
    if not name.strip() or re.search(r"[\x00-\x1f\x7f]", name):
        return Fault(place, f"{name!r} is not the name of a file", "write the name of a file")
    path = folder / name
    kind = what_else(path)
    if kind is not None:
        return Fault(place, f"{name} is {kind}", "name a plain file")
    try:
        with path.open("rb") as file:
            raw = file.read(most_bytes + 1)
    except FileNotFoundError:
        remedy = f"check the name; it is looked for in {path.absolute().parent}"
        return Fault(place, f"there is no file {name}", remedy)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        return Fault(place, f"{name} cannot be read: {why}", "see that it can be read")
    if len(raw) > most_bytes:
        what = f"{name} is larger than {most_bytes:,} bytes"
        return Fault(place, what, "thin it out, or cut it to what the study needs")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        return Fault(f"{name}, line {line}", "it is not UTF-8 text", "save it as UTF-8")
