"""Reader of radio-link instances: ``var``, ``dom`` and ``ctr`` files (CELAR, GRAPH, TUD, RLFAP)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sidon.bench.loaders import _lines, _numbers, _unreadable
from sidon.problem import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

__all__ = ["radio_link_problem"]

Ask = Literal["order", "range", "highest", "cost", "satisfy"]

_WEIGHTS = (1000, 100, 10, 1)


def _rows(path: Path, *, counted: bool) -> list[tuple[int, list[str]]]:
    rows = list(_lines(path.read_text(encoding="latin-1")))
    # Some sets begin every file with the number of its lines.
    return rows[1:] if counted else rows


def radio_link_problem(
    variables: Path,
    domains: Path,
    constraints: Path,
    *,
    ask: Ask,
    weights: Sequence[int] = _WEIGHTS,
    mobility: Sequence[int] = (0, 0, 0, 0),
    counted: bool = False,
) -> Problem:
    """Read a radio-link instance.

    Parameters
    ----------
    variables, domains, constraints : pathlib.Path
        ``var``, ``dom`` and ``ctr`` files. ``=`` asks for an exact distance, ``>`` for a larger
        one. One megahertz of the file is one hertz.
    ask : {"order", "range", "highest", "cost", "satisfy"}
        What will be minimised. For ``"highest"`` a link fixed at 0 is added, which makes the span
        the largest frequency; for ``"cost"`` rules of weight index 1 to 4 are soft, else all are
        hard.
    weights : sequence of int, optional
        Cost of a broken rule of index 1 to 4.
    mobility : sequence of int, optional
        Cost of leaving the initial frequency, of index 1 to 4; index 0 keeps it.
    counted : bool, optional
        Whether every file begins with the number of its lines.

    Returns
    -------
    Problem
        One link for each variable, in the file's order.

    Raises
    ------
    UnreadableError
        A line is not of the format.
    """
    lists = {}
    for line, words in _rows(domains, counted=counted):
        numbers = _numbers(words, line)
        lists[numbers[0]] = sorted(set(numbers[2:]))
    order = sorted(lists)
    place = {name: i for i, name in enumerate(order)}
    frequencies = [lists[name] for name in order]

    names: dict[int, int] = {}
    links: list[dict[str, Any]] = []
    costs: list[list[int]] = []
    for line, words in _rows(variables, counted=counted):
        numbers = _numbers(words, line)
        if len(numbers) < 2 or numbers[1] not in place:
            raise _unreadable(line, f"{' '.join(words)!r} names no domain of {domains.name}")
        names[numbers[0]] = len(links)
        link: dict[str, Any] = {
            "id": str(numbers[0]),
            "profile": 0,
            "zone": 0,
            "domain": place[numbers[1]],
        }
        if len(numbers) >= 4:
            initial, index = numbers[2], numbers[3]
            if index == 0:
                link["locked_hz"] = initial
            elif ask == "cost" and mobility[index - 1] > 0:
                own = frequencies[link["domain"]]
                link["costs"] = len(costs)
                costs.append([0 if f == initial else mobility[index - 1] for f in own])
        links.append(link)

    pairs: list[dict[str, Any]] = []
    for line, words in _rows(constraints, counted=counted):
        sign = next((i for i, word in enumerate(words) if word in {"=", ">"}), None)
        if sign is None:
            raise _unreadable(line, "a constraint has = or >")
        a, b = _numbers(words[:2], line)
        rest = _numbers(words[sign + 1 :], line)
        if a not in names or b not in names:
            raise _unreadable(line, f"variables {a} and {b} are not both in {variables.name}")
        index = rest[1] if len(rest) > 1 else 0
        hz = rest[0]
        soft = ask == "cost" and index > 0
        if soft and weights[index - 1] == 0:
            continue
        pairs.append(
            {
                "a": names[a],
                "b": names[b],
                "relation": {"exactly": hz} if words[sign] == "=" else {"at_least": hz + 1},
                "weight": {"soft": weights[index - 1]} if soft else "hard",
            }
        )
    if ask == "highest":
        links.append(
            {"id": "zero", "profile": 0, "zone": 0, "domain": len(frequencies), "locked_hz": 0}
        )
        frequencies.append([0])
    return Problem(
        profiles=[{"name": "radio link", "separation_hz": 0}],
        zones=["net"],
        domains=[np.array(own, dtype=np.int64) for own in frequencies],
        links=links,
        costs=costs,
        pairs=pairs,
    )
