"""The parts of a problem, from what a caller hands over to what the engine reads."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon import _engine
from sidon._arrays import (
    NO_VALUES,
    FaultList,
    distance,
    frequency_column,
    guard_list,
    integer_column,
)
from sidon._column_faults import same_length
from sidon._forms import canonical_form
from sidon._options import whole_number
from sidon.exceptions import Fault, InvalidProblemError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from sidon._arrays import Distance, Frequencies, Guards

__all__ = [
    "counted",
    "domain_fields",
    "link_count",
    "one_profile",
    "pair_rules",
    "profile_fields",
    "read_problem",
]

_MOST_LINKS = 100_000
"""No event has as many; far more would fill the memory before anything could be refused."""


def counted(n: int, name: str) -> str:
    """Put a number before a noun."""
    return f"{n} {name}" if n == 1 else f"{n} {name}s"


def link_count(count: object) -> int:
    """Read how many links are asked for."""
    n = whole_number(count)
    if n is not None and 0 <= n <= _MOST_LINKS:
        return n
    what = f"{count!r} is no number of links"
    remedy = f"give a whole number, at most {_MOST_LINKS:,}"
    raise InvalidProblemError([Fault("count", what, remedy)])


def one_profile(separation: Distance, guards: Guards | None, faults: FaultList) -> dict[str, Any]:
    """Write the one profile of a problem from arrays; what is wrong goes to `faults`."""
    hertz = faults.take(0, distance, separation, "separation")
    if hertz < 0:
        faults.add("separation", f"{hertz} Hz is negative", "give 0 or more")
    pairs = faults.take([], guard_list, guards or {})
    return {
        "name": "link",
        "separation_hz": hertz,
        "guards": [{"form": form, "guard_hz": guard} for form, guard in pairs],
    }


def profile_fields(profile: object, place: str) -> object:
    """Write the forms of a profile's guards as the engine reads them."""
    if not isinstance(profile, Mapping) or not isinstance(profile.get("guards"), list | tuple):
        return profile
    faults = FaultList()
    guards = []
    for i, guard in enumerate(profile["guards"]):
        if isinstance(guard, Mapping) and not isinstance(guard.get("form", ""), str):
            form = faults.take("", canonical_form, guard["form"], f"{place}.guards[{i}].form")
            guard = {**guard, "form": form}
        guards.append(guard)
    faults.raise_if_any()
    return {**profile, "guards": guards}


def domain_fields(domain: Frequencies | Mapping[str, Any], place: str) -> Mapping[str, Any]:
    """Read a domain: a raster as it is, or a column of frequencies."""
    if isinstance(domain, Mapping):
        return domain
    return {"frequencies": frequency_column(domain, place)}


def pair_rules(
    pairs: Sequence[ArrayLike] | None, exact_pairs: Sequence[ArrayLike] | None
) -> list[NDArray[np.int64]]:
    """Read pair rules from columns: two links, distance, cost, and whether it is exact."""
    faults = FaultList()
    rules = [
        faults.take(_NO_RULES, _rules_of_one_kind, pairs, "pairs", 0),
        faults.take(_NO_RULES, _rules_of_one_kind, exact_pairs, "exact_pairs", 1),
    ]
    faults.raise_if_any()
    return list(np.concatenate(rules, axis=1))


_NO_RULES: NDArray[np.int64] = np.empty((5, 0), dtype=np.int64)


def _rules_of_one_kind(
    columns: Sequence[ArrayLike] | None, place: str, exact: int
) -> NDArray[np.int64]:
    if columns is None:
        return _NO_RULES
    names = ("a", "b", "distance_hz", "weight")
    if len(columns) not in (3, 4):
        what = f"{len(columns)} columns"
        remedy = "give (a, b, distance_hz) or (a, b, distance_hz, weight)"
        raise InvalidProblemError([Fault(place, what, remedy)])
    faults = FaultList()
    named = {
        f"{place}.{name}": faults.take(NO_VALUES, integer_column, column, f"{place}.{name}")
        for name, column in zip(names, columns, strict=False)
    }
    faults.raise_if_any()
    same_length(named)
    rules = np.zeros((5, len(named[f"{place}.a"])), dtype=np.int64)
    rules[: len(named)] = list(named.values())
    rules[4] = exact
    return rules


def read_problem(
    fields: Mapping[str, Any], rules: Sequence[NDArray[np.int64]] = ()
) -> _engine.Problem:
    """Hand the fields, and pair rules in columns, to the engine, which validates them."""
    text = json.dumps(fields, default=_plain)
    if rules:
        a, b, distance_hz, cost, exact = rules
        return _engine.Problem.from_columns(text, a, b, distance_hz, cost, exact)
    return _engine.Problem.from_json(text)


def _plain(value: object) -> object:
    """Make plain what json cannot write: arrays and their scalars, mappings that are no dict."""
    if isinstance(value, np.ndarray | np.generic):
        return value.tolist()
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, Sequence):
        return list(value)
    if hasattr(value, "to_list"):  # pandas and polars
        return value.to_list()
    what = f"{value!r} is a {type(value).__name__}"
    remedy = "give numbers, texts, lists, dictionaries or arrays"
    raise InvalidProblemError([Fault("problem", what, remedy)])
