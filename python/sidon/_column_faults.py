"""What is wrong with the columns of a problem: indices out of range, lengths, rows for columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon._arrays import integer_column
from sidon.exceptions import Fault, InvalidProblemError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["as_columns", "column_faults", "same_length"]

_SHOWN = 20
_MOST_PRIORITY = 2**32 - 1


def as_columns(pairs: Any, place: str) -> Any:  # noqa: ANN401 - as handed over, if no rows
    """Return pair rules as they are, unless they are rows where columns belong.

    Raises
    ------
    InvalidProblemError
        They are rows; the remedy says how to turn them. Three or four entries are columns.
    """
    if pairs is None:
        return None
    try:
        entries = pairs if isinstance(pairs, Sequence | np.ndarray) else tuple(pairs)
        lengths = {len(entry) for entry in entries}
    except TypeError:  # single values, for the reader of columns to refuse
        return pairs
    if len(entries) in (0, 3, 4) or not lengths <= {2, 3, 4}:
        return entries
    size = ", ".join(map(str, sorted(lengths)))
    what = f"{len(entries)} entries of {size} values look like one row per pair"
    remedy = f"give columns (a, b, distance_hz): {place}=tuple(zip(*rows))"
    if 2 in lengths:
        remedy = f"give columns (a, b, distance_hz): {place}=(*zip(*edges), distances)"
    raise InvalidProblemError([Fault(place, what, remedy)])


def column_faults(
    *,
    domains: int,
    costs: int,
    link_domain: ArrayLike,
    link_priority: ArrayLike | None,
    link_costs: ArrayLike | None,
    pairs: Sequence[ArrayLike] | None,
    exact_pairs: Sequence[ArrayLike] | None,
) -> list[Fault]:
    """Find indices and priorities out of range, in the words of the columns they stand in.

    Columns that cannot be read at all are passed over: whoever reads them says why.
    """
    domain = _readable(link_domain)
    faults = list(_outside("link_domain", domain, domains, "domain"))
    table = _readable(link_costs)
    faults += _outside("link_costs", table, costs, "cost table", least=-1)
    priority = _readable(link_priority)
    for i, value in _listed(priority, (priority < 1) | (priority > _MOST_PRIORITY)):
        remedy = f"give 1 to {_MOST_PRIORITY:,}; 1 is the least that a link can be worth"
        faults.append(Fault(f"link_priority[{i}]", f"{value} is no priority", remedy))
    for place, columns in (("pairs", pairs), ("exact_pairs", exact_pairs)):
        if columns is None or len(columns) not in (3, 4):
            continue
        for name, column in zip(("a", "b"), columns, strict=False):
            faults += _outside(f"{place}.{name}", _readable(column), len(domain), "link")
        apart = _readable(columns[2])
        for i, value in _listed(apart, apart < 0):
            what = f"{value} Hz is negative"
            faults.append(Fault(f"{place}.distance_hz[{i}]", what, "give 0 or more"))
        if len(columns) == 4:
            weight = _readable(columns[3])
            for i, value in _listed(weight, weight < 0):
                remedy = "give 0 for a hard rule, or the cost of breaking it"
                faults.append(Fault(f"{place}.weight[{i}]", f"{value} is negative", remedy))
    return faults


def same_length(columns: Mapping[str, Sequence[Any] | NDArray[np.int64]]) -> None:
    """Raise unless these columns are of one length."""
    lengths = {name: len(column) for name, column in columns.items()}
    expected = next(iter(lengths.values()))
    faults = [
        Fault(name, f"{n} entries where there are {expected}", "give one entry per row")
        for name, n in lengths.items()
        if n != expected
    ]
    if faults:
        raise InvalidProblemError(faults)


def _readable(column: ArrayLike | None) -> NDArray[np.int64]:
    if column is None:
        return np.empty(0, dtype=np.int64)
    try:
        return integer_column(column, "")
    except InvalidProblemError:
        return np.empty(0, dtype=np.int64)


def _outside(
    place: str, indices: NDArray[np.int64], count: int, noun: str, *, least: int = 0
) -> Iterator[Fault]:
    none = "; -1 for none" if least < 0 else ""
    nouns = noun if count == 1 else f"{noun}s"
    remedy = f"there {'is' if count == 1 else 'are'} {count} {nouns}, counted from 0{none}"
    for i, value in _listed(indices, (indices < least) | (indices >= count)):
        yield Fault(f"{place}[{i}]", f"{value} is not the index of a {noun}", remedy)


def _listed(
    column: NDArray[np.int64], bad: NDArray[np.bool_]
) -> Iterator[tuple[int | str, int | str]]:
    """Positions and values that are bad; after twenty, how many more."""
    where = np.flatnonzero(bad)
    for i in where[:_SHOWN]:
        yield int(i), int(column[i])
    if len(where) > _SHOWN:
        yield f"{where[_SHOWN]}...", f"each of {len(where) - _SHOWN} more"
