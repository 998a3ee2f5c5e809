"""Reading delimited text of any make: where the table begins, what parts its cells, its numbers."""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from itertools import compress
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sidon._files import what_else
from sidon.exceptions import UnreadableError
from sidon.spectrum.scan.table import Numbers, Table
from sidon.spectrum.scan.words import lines_text

__all__ = ["read_delimited", "read_text_file"]

_DELIMITERS = (";", "\t", "|", ",", None)
_SAMPLE = 400
_MOST_BYTES = 1 << 30
_CHUNK = 2_000
_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([kKMG]?[Hh]z|dBm|dB[uµμ]V)?$")
_COMMENT = ("#", "!", "%", "//", "*")
_MISSING = frozenset({"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "inf", "-inf"})
_REMEDY = "give a table with a column of frequencies and a column of levels"


@dataclass(frozen=True)
class _Layout:
    """How the text is cut: what parts cells, the decimal mark, and where the table begins."""

    delimiter: str | None
    decimal: str
    first: int
    width: int
    numeric: tuple[int, ...]
    names: tuple[str, ...]
    preamble: tuple[str, ...]

    def cut(self, line: str) -> list[str]:
        return _cells(line, self.delimiter)


def read_text_file(path: str | Path) -> str:
    """Read a text file in UTF-8, UTF-16 with its mark, or the western single-byte encoding.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    str
        Its text.

    Raises
    ------
    UnreadableError
        It is no regular file, too long, or no text.
    OSError
        It cannot be read.
    """
    path = Path(path)
    kind = what_else(path)
    if kind is not None:
        raise UnreadableError(str(path), f"it is {kind}", "name a regular file")
    size = path.stat().st_size
    if size > _MOST_BYTES:
        why = f"its {size:,} bytes are more than {_MOST_BYTES:,}"
        raise UnreadableError(str(path), why, "thin the sweeps, or read them one by one")
    raw = path.read_bytes()
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    if b"\0" in raw[:4096]:
        why = "it holds zero bytes and is no text"
        raise UnreadableError(path.name, why, "export the sweep as CSV")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def read_delimited(
    text: str, *, source: str, delimiter: str | None = None, decimal: str | None = None
) -> Table:
    """Read a table from delimited text. O(n) in its length.

    Parameters
    ----------
    text : str
        With or without a header, comments and lines above the table.
    source : str
        What to call it in messages.
    delimiter : str, optional
        What parts cells; found out when not given. A blank stands for any white space.
    decimal : str, optional
        "." or ","; found out when not given.

    Returns
    -------
    Table
        Its columns.

    Raises
    ------
    UnreadableError
        There is no table of at least two columns of numbers in it.
    """
    if not text.strip():
        raise UnreadableError(source, "it is empty", _REMEDY)
    lines = text.splitlines()
    layout = _layout(lines, delimiter, decimal)
    if layout is None:
        why = "no line holds two numbers"
        raise UnreadableError(source, why, f"{_REMEDY}, or name the delimiter and decimal mark")
    rows = lines[layout.first :]
    kept, found, warnings, numbers = _read(rows, layout)

    def texts(index: int) -> Sequence[str]:
        cut = (layout.cut(row) for row in kept)
        return [cells[index] if index < len(cells) else "" for cells in cut]

    return Table(source, layout.names, found, texts, layout.preamble, warnings, numbers)


def _read(
    rows: list[str], layout: _Layout
) -> tuple[list[str], dict[int, Numbers], tuple[str, ...], NDArray[np.int64]]:
    """Read the columns of numbers: fast where the table is clean, line by line where it is not."""
    lines = layout.first + 1 + np.arange(len(rows), dtype=np.int64)
    rows, lines = _those(rows, lines, list(map(bool, rows)))
    warnings: tuple[str, ...] = ()
    whole = _fast(rows, layout)
    kept, blocks = rows, [] if whole is None else [whole]
    if whole is None:
        rows, lines = _those(rows, lines, [not row.isspace() for row in rows])
        sound: list[bool] = []
        for start in range(0, len(rows), _CHUNK):
            chunk = rows[start : start + _CHUNK]
            block = _fast(chunk, layout)
            held = [True] * len(chunk)
            if block is None:
                held, block = _patient(chunk, layout)
            sound += held
            blocks.append(block)
        passed = lines[~np.array(sound, dtype=np.bool_)].tolist()
        if passed:
            noun = "line" if len(passed) == 1 else "lines"
            text = f"{len(passed):,} {noun} without numbers inside the table passed over"
            warnings = (f"{text}: {lines_text(passed)}",)
        kept, lines = _those(rows, lines, sound)
    table = np.concatenate(blocks)
    columns = {
        column: np.ascontiguousarray(table[:, place]) for place, column in enumerate(layout.numeric)
    }
    return kept, columns, warnings, lines


def _those(
    rows: list[str], lines: NDArray[np.int64], which: list[bool]
) -> tuple[list[str], NDArray[np.int64]]:
    if all(which):
        return rows, lines
    return list(compress(rows, which)), lines[np.array(which, dtype=np.bool_)]


def _fast(rows: list[str], layout: _Layout) -> Numbers | None:
    """Let numpy read clean rows; None when they are not clean."""
    text = "\n".join(rows)
    if layout.decimal == ",":
        text = text.replace(",", ".")
    try:
        found: Numbers = np.loadtxt(
            StringIO(text),
            delimiter=layout.delimiter,
            usecols=layout.numeric,
            comments=None,
            quotechar='"' if '"' in text else None,
            ndmin=2,
            dtype=np.float64,
        )
    except ValueError:
        return None
    # A quotation mark that is not closed joins lines.
    return found if len(found) == len(rows) else None


def _patient(rows: list[str], layout: _Layout) -> tuple[list[bool], Numbers]:
    """Read line by line, with gaps for what is no number, passing over lines that hold none."""
    kept: list[bool] = []
    values: list[list[float]] = []
    for row in rows:
        if row.lstrip().startswith(_COMMENT):
            kept.append(False)
            continue
        cells = layout.cut(row)
        numbers = [
            _number(cells[index], layout.decimal) if index < len(cells) else math.nan
            for index in layout.numeric
        ]
        kept.append(not all(map(math.isnan, numbers)))
        if kept[-1]:
            values.append(numbers)
    return kept, np.array(values, dtype=np.float64).reshape(len(values), len(layout.numeric))


def _layout(lines: list[str], delimiter: str | None, decimal: str | None) -> _Layout | None:
    sample = [(at, line) for at, line in enumerate(lines[: 4 * _SAMPLE]) if line.strip()][:_SAMPLE]
    ways = _DELIMITERS if delimiter is None else (None if delimiter == " " else delimiter,)
    best: tuple[tuple[float, ...], str | None, str, int] | None = None
    for order, way in enumerate(ways):
        for mark in (".", ",") if decimal is None else (decimal,):
            if mark == way:
                continue
            score, width = _score(sample, way, mark)
            key = (*score, -order, mark == ".")
            if width and (best is None or key > best[0]):
                best = (key, way, mark, width)
    if best is None:
        return None
    return _begin(sample, best[1], best[2], best[3])


def _score(
    sample: list[tuple[int, str]], way: str | None, mark: str
) -> tuple[tuple[float, float], int]:
    """How many lines hold two numbers at the commonest width, and what share is numbers."""
    widths: Counter[int] = Counter()
    numbers: Counter[int] = Counter()
    for _, line in sample:
        cells = _cells(line, way)
        count = sum(_is_number(cell, mark) for cell in cells)
        if count >= 2:
            widths[len(cells)] += 1
            numbers[len(cells)] += count
    if not widths:
        return (0.0, 0.0), 0
    width, lines = max(widths.items(), key=lambda item: (item[1], item[0]))
    return (lines, numbers[width] / (lines * width)), width


def _begin(sample: list[tuple[int, str]], way: str | None, mark: str, width: int) -> _Layout | None:
    cut = [(at, _cells(line, way)) for at, line in sample]
    table = [cells for _, cells in cut if len(cells) == width]
    table = [cells for cells in table if sum(_is_number(c, mark) for c in cells) >= 2]
    numeric = tuple(
        index
        for index in range(width)
        if sum(_is_number(cells[index], mark) for cells in table) * 2 > len(table)
    )
    if len(numeric) < 2:
        return None
    begin = next(
        (i for i, (_, cells) in enumerate(cut) if _is_row(cells, numeric, mark, width)), None
    )
    if begin is None:
        return None
    at, cells = cut[begin]
    names = _header(cut[:begin], sample[begin - 1][1] if begin else "", width)
    if not any(names):
        # Units that stand in the cells say as much as a header.
        units = [_NUMBER.match(cell) for cell in (*cells, *("",) * (width - len(cells)))]
        names = tuple((unit[2] or "") if unit else "" for unit in units)
    above = tuple(line.strip() for _, line in sample[:begin])
    return _Layout(way, mark, at, width, numeric, names, above)


def _is_row(cells: list[str], numeric: tuple[int, ...], mark: str, width: int) -> bool:
    """Whether a line belongs to the table and is not its header, which may hold numbers too."""
    there = [cells[i] if i < len(cells) else "" for i in numeric]
    odd = [cell for cell in there if not _is_number(cell, mark)]
    named = any(re.search(r"[^\W\d]", cell) and cell.lower() not in _MISSING for cell in odd)
    return not named and len(there) - len(odd) >= 2 and len(cells) <= width


def _header(above: list[tuple[int, list[str]]], line: str, width: int) -> tuple[str, ...]:
    """Names of the columns, from the line above the table if it is their header."""
    cells = list(above[-1][1]) if above else []
    if cells:
        cells[0] = cells[0].lstrip("#!%*/ ")
        cells = cells[1:] if len(cells) == width + 1 and not cells[0] else cells
    if len(cells) != width:
        # Names of several words over a table parted by blanks: their units in brackets part them.
        bare = line.lstrip("#!%*/ ")
        for pattern in (r"[^\[\]()]+[\[(][^\])]*[\])]", r"\S+(?: \S+)*"):
            pieces = [piece.strip() for piece in re.findall(pattern, bare)]
            if len(pieces) == width > 1:
                cells = pieces
                break
    if 0 <= width - len(cells) <= 1 and any(re.search(r"[^\W\d]", cell) for cell in cells):
        return tuple(cells + [""] * (width - len(cells)))
    return ("",) * width


def _cells(line: str, delimiter: str | None) -> list[str]:
    if '"' in line and delimiter is not None:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    else:
        cells = line.split(delimiter)
    cells = [cell.strip() for cell in cells]
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    return cells


def _is_number(cell: str, mark: str) -> bool:
    return _NUMBER.match(cell if mark == "." else cell.replace(",", ".")) is not None


def _number(cell: str, mark: str) -> float:
    if cell.lower() in _MISSING:
        return math.nan
    match = _NUMBER.match(cell if mark == "." else cell.replace(",", "."))
    return float(match[1]) if match else math.nan
