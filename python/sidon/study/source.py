"""Reading a study's text: TOML or JSON into a mapping, with every number kept as it is written."""

from __future__ import annotations

import json
import re
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

from sidon.exceptions import Fault, StudyError

__all__ = ["read_file", "read_json", "read_toml"]

_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)")


def read_file(path: str | Path) -> dict[str, Any]:
    """Read a study file.

    Parameters
    ----------
    path : str or Path
        A file whose name ends in ``.toml`` or ``.json``.

    Returns
    -------
    dict
        What it says, fractions as `Decimal`.

    Raises
    ------
    StudyError
        When the text is neither, or broken; the place names the line.
    OSError
        When the file cannot be read.
    """
    path = Path(path)
    if path.is_dir():
        raise StudyError([Fault(str(path), "it is a directory", "name the study file in it")])
    readers = {".toml": read_toml, ".json": read_json}
    reader = readers.get(path.suffix.lower())
    if reader is None:
        what = f"the name ends in {path.suffix!r}" if path.suffix else "the name has no ending"
        raise StudyError([Fault(path.name, what, "name it .toml or .json, as what it holds")])
    raw = path.read_bytes()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        fault = Fault(f"{path.name}, line {line}", "it is not UTF-8 text", "save it as UTF-8")
        raise StudyError([fault]) from None
    return reader(text, name=path.name)


def read_toml(text: str, *, name: str = "study") -> dict[str, Any]:
    """Read TOML.

    Parameters
    ----------
    text : str
        TOML text.
    name : str, default "study"
        What to call it in faults.

    Returns
    -------
    dict
        What it says, fractions as `Decimal`.

    Raises
    ------
    StudyError
        When it is not TOML; the place names the line.
    """
    try:
        return tomllib.loads(text.replace("\r\n", "\n"), parse_float=_decimal)
    except tomllib.TOMLDecodeError as error:
        match = _AT.search(str(error))
        line = match[1] if match and match[1] else str(text.count("\n") + 1)
        column = f", column {match[2]}" if match and match[2] else ""
        why = _AT.sub("", str(error))
        raise StudyError([_broken(f"{name}, line {line}{column}", "TOML", why)]) from None
    except RecursionError:
        raise StudyError([_broken(name, "TOML", "it nests too deep")]) from None


def read_json(text: str, *, name: str = "study") -> dict[str, Any]:
    """Read JSON.

    Parameters
    ----------
    text : str
        JSON text whose top is an object.
    name : str, default "study"
        What to call it in faults.

    Returns
    -------
    dict
        What it says, fractions as `Decimal`.

    Raises
    ------
    StudyError
        When it is not JSON, its top is no object, or a key stands twice; the place names the line.
    """
    repeated: list[str] = []

    def table(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        keys = [key for key, _ in pairs]
        repeated.extend(sorted({key for key in keys if keys.count(key) > 1}))
        return dict(pairs)

    try:
        top = json.loads(
            text, parse_float=_decimal, parse_constant=Decimal, object_pairs_hook=table
        )
    except json.JSONDecodeError as error:
        place = f"{name}, line {error.lineno}, column {error.colno}"
        raise StudyError([_broken(place, "JSON", error.msg)]) from None
    except (RecursionError, ValueError) as error:
        raise StudyError([_broken(name, "JSON", str(error))]) from None
    if repeated:
        faults = [Fault(name, f"the key {key!r} stands twice", "keep one") for key in repeated]
        raise StudyError(faults)
    if not isinstance(top, dict):
        raise StudyError([Fault(name, "the top is not an object", "write a study in braces")])
    return top


def _decimal(text: str) -> Decimal:
    return Decimal(text.replace("_", ""))


def _broken(place: str, language: str, why: str) -> Fault:
    remedy = "correct it there; if the file ends too early, it was half written: restore it"
    return Fault(place, f"it is not {language}: {why[:1].lower()}{why[1:]}", remedy)
