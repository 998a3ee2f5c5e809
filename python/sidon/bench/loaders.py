"""Readers of the open benchmark formats: graphs, cells, fixed spectrum, compatible sets.

Each returns a `sidon.Problem` in the units of the file: one channel is one hertz.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon.exceptions import UnreadableError
from sidon.problem import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import ArrayLike

__all__ = [
    "Graph",
    "bandwidth_problem",
    "cellular_problem",
    "colouring_problem",
    "compatible_set_problem",
    "fixed_spectrum_problem",
    "multicolouring_problem",
    "read_dimacs_binary",
    "read_graph",
]


_DEAREST = 1_000_000
"""The largest weight of a soft rule."""


@dataclass(slots=True)
class Graph:
    """A graph as DIMACS and band files hold it.

    Attributes
    ----------
    vertices : int
        Vertices are 0 to this less 1.
    edges : dict
        Least distance by ``(low, high)`` vertex; 1 where the file gives none. Each edge once.
    loops : dict
        Least distance within a vertex.
    demand : dict
        Channels a vertex needs, where the file says so.
    """

    vertices: int = 0
    edges: dict[tuple[int, int], int] = field(default_factory=dict)
    loops: dict[int, int] = field(default_factory=dict)
    demand: dict[int, int] = field(default_factory=dict)

    def add(self, a: int, b: int, distance: int, line: int) -> None:
        """Add an edge, or a loop where both ends are the same; the larger distance counts."""
        if not (0 <= a < self.vertices and 0 <= b < self.vertices):
            raise _unreadable(line, f"edge {a + 1} {b + 1} leaves the {self.vertices} vertices")
        if a == b:
            self.loops[a] = max(self.loops.get(a, 0), distance)
        else:
            key = (min(a, b), max(a, b))
            self.edges[key] = max(self.edges.get(key, 0), distance)

    def columns(self) -> tuple[list[int], list[int], list[int]]:
        """Return the edges as columns: two ends and the distance."""
        ends = sorted(self.edges)
        return [a for a, _ in ends], [b for _, b in ends], [self.edges[key] for key in ends]


def _unreadable(line: int, why: str) -> UnreadableError:
    return UnreadableError(f"line {line}", why, "give a file of the format as published")


def _numbers(words: Sequence[str], line: int) -> list[int]:
    try:
        return [int(word) for word in words]
    except ValueError as error:
        raise _unreadable(line, f"{' '.join(words)!r} holds more than whole numbers") from error


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.replace("\0", "").split()
        if words:
            yield number, words


def _parse(text: str, *, first: int = 1) -> Graph:
    graph = Graph()
    for line, words in _lines(text):
        kind, rest = words[0], words[1:]
        if kind == "p":
            if len(rest) < 2:
                raise _unreadable(line, "the problem line names no number of vertices")
            graph.vertices = _numbers(rest[1:2], line)[0]
        elif kind == "n":
            vertex, demand = _numbers(rest[:2], line)
            graph.demand[vertex - first] = demand
        elif kind == "e":
            ends = _numbers(rest[:3], line)
            if len(ends) < 2:
                raise _unreadable(line, "an edge has two ends")
            graph.add(ends[0] - first, ends[1] - first, ends[2] if len(ends) > 2 else 1, line)
    return graph


def read_graph(path: Path) -> Graph:
    """Read a DIMACS ``.col`` file, or a band file with demands and distances.

    Parameters
    ----------
    path : pathlib.Path
        The file. Edges may stand twice; a ``p`` line that counts them wrongly does not matter.

    Returns
    -------
    Graph
        The graph.

    Raises
    ------
    UnreadableError
        A line is not of the format.
    """
    return _parse(path.read_text(encoding="latin-1"))


def read_dimacs_binary(path: Path) -> Graph:
    """Read a DIMACS ``.col.b`` file: a preamble of text, then the lower triangle as bits.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Returns
    -------
    Graph
        The graph.

    Raises
    ------
    UnreadableError
        The file is shorter than its matrix.
    """
    data = path.read_bytes()
    newline = data.find(b"\n")
    head = data[:newline].strip()
    if newline < 0 or not head.isdigit():
        raise _unreadable(1, "it holds no length of the preamble")
    graph = _parse(data[newline + 1 : newline + 1 + int(head)].decode("latin-1"))
    rows = [(row, row // 8 + 1) for row in range(graph.vertices)]
    # Counted from the end: some published preambles give their own length wrongly.
    at = len(data) - sum(size for _, size in rows)
    if at < newline:
        raise _unreadable(2, f"the matrix of {graph.vertices} vertices is not complete")
    for row, size in rows:
        bits = np.unpackbits(np.frombuffer(data[at : at + size], dtype=np.uint8))
        for column in np.flatnonzero(bits[:row]).tolist():
            graph.edges[column, row] = 1
        at += size
    return graph


def _first_fit(graph: Graph, demand: Mapping[int, int]) -> int:
    """Channels that placing the vertices by falling distances needs."""
    near: list[dict[int, int]] = [{} for _ in range(graph.vertices)]
    for (a, b), distance in graph.edges.items():
        near[a][b] = near[b][a] = distance
    order = sorted(range(graph.vertices), key=lambda v: -sum(near[v].values()))
    taken: dict[int, list[int]] = {}
    top = 0
    for vertex in order:
        own: list[int] = []
        barred = [(c, d) for other, d in near[vertex].items() for c in taken.get(other, ())]
        loop = graph.loops.get(vertex, 1)
        shut: set[int] = set()
        for channel, distance in barred:
            shut.update(range(channel - distance + 1, channel + distance))
        channel = 0
        while len(own) < demand.get(vertex, 1):
            if channel not in shut:
                own.append(channel)
                channel += max(loop, 1)
            else:
                channel += 1
        taken[vertex] = own
        top = max(top, own[-1] if own else 0)
    return top + 1


def _channels(graph: Graph, demand: Mapping[int, int]) -> range:
    """Return more channels than a good plan needs, and no more than a plain one takes."""
    return range(_first_fit(graph, demand) * 9 // 8 + 2)


def colouring_problem(graph: Graph) -> Problem:
    """Ask for a colouring: distances are 1 whatever the file says.

    Parameters
    ----------
    graph : Graph
        Vertices are links.

    Returns
    -------
    Problem
        Its span plus 1 is the number of colours.
    """
    return bandwidth_problem(Graph(vertices=graph.vertices, edges=dict.fromkeys(graph.edges, 1)))


def bandwidth_problem(graph: Graph) -> Problem:
    """Ask for one channel per vertex, edges keeping their distances; demands are left out.

    Parameters
    ----------
    graph : Graph
        Vertices are links.

    Returns
    -------
    Problem
        Its span plus 1 is the number of channels.
    """
    a, b, distance = graph.columns()
    return Problem.from_arrays(
        domains=[_channels(graph, {})],
        link_domain=np.zeros(graph.vertices, dtype=np.int64),
        pairs=(a, b, distance),
    )


def multicolouring_problem(graph: Graph) -> Problem:
    """Ask for as many channels per vertex as it demands, apart by its loop.

    Parameters
    ----------
    graph : Graph
        A vertex is a class of like links.

    Returns
    -------
    Problem
        Its span plus 1 is the number of channels.
    """
    demand = [graph.demand.get(vertex, 1) for vertex in range(graph.vertices)]
    matrix = np.zeros((graph.vertices, graph.vertices), dtype=np.int64)
    for (a, b), distance in graph.edges.items():
        matrix[a, b] = matrix[b, a] = distance
    for vertex in range(graph.vertices):
        matrix[vertex, vertex] = graph.loops.get(vertex, 1)
    return cellular_problem(demand, matrix)


def cellular_problem(demand: Sequence[int], matrix: ArrayLike) -> Problem:
    """Ask for several channels per cell, apart as a matrix says.

    Parameters
    ----------
    demand : sequence of int
        Channels of each cell.
    matrix : array of int
        Least distance between channels of two cells; the diagonal is within a cell.

    Returns
    -------
    Problem
        One profile for each cell, so that the links of a cell are alike.
    """
    rows = np.asarray(matrix, dtype=np.int64).tolist()
    cells = range(len(demand))
    graph = Graph(
        vertices=len(demand),
        edges={(b, a): rows[a][b] for a in cells for b in range(a) if rows[a][b] > 0},
        loops={a: rows[a][a] for a in cells},
    )
    return Problem(
        profiles=[{"name": f"cell {i}", "separation_hz": rows[i][i]} for i in cells],
        separations=[
            {"a": a, "b": b, "separation_hz": rows[a][b]} for a in cells for b in range(a)
        ],
        zones=["site"],
        domains=[_channels(graph, dict(enumerate(demand)))],
        links=[
            {"id": f"{cell}.{k}", "profile": cell, "zone": 0, "domain": 0}
            for cell in cells
            for k in range(demand[cell])
        ],
    )


def fixed_spectrum_problem(path: Path, channels: int, *, hard_weight: int | None = None) -> Problem:
    """Read a fixed-spectrum file: ``e i j d w`` costs `w` where ``abs(f_i - f_j) <= d``.

    Parameters
    ----------
    path : pathlib.Path
        The file; transmitters are numbered from 0.
    channels : int
        Channels that may be used.
    hard_weight : int, optional
        A weight that stands for a rule that must hold, in sets that have one.

    Returns
    -------
    Problem
        All rules are soft but those of `hard_weight`.

    Raises
    ------
    UnreadableError
        A line is not of the format, or a weight is above a million and not `hard_weight`.
    """
    rules: list[list[int]] = []
    vertices = 0
    for line, words in _lines(path.read_text(encoding="latin-1")):
        if words[0] == "p":
            vertices = _numbers(words[2:3], line)[0]
        elif words[0] == "e":
            rule = _numbers(words[1:5], line)
            if len(rule) != 4:
                raise _unreadable(line, "a rule has two ends, a distance and a weight")
            hard = rule[3] == hard_weight
            if rule[3] > _DEAREST and not hard:
                why = f"a weight of {rule[3]} is above {_DEAREST}"
                remedy = "scale the weights down, or say with hard_weight that it must hold"
                where = f"line {line}"
                raise UnreadableError(where, why, remedy)
            if rule[3] > 0:
                # For the engine 0 is a hard rule.
                rules.append([rule[0], rule[1], rule[2] + 1, 0 if hard else rule[3]])
    columns = np.array(rules, dtype=np.int64).reshape(-1, 4).T
    return Problem.from_arrays(
        domains=[range(channels)],
        link_domain=np.zeros(vertices, dtype=np.int64),
        pairs=tuple(columns),
    )


def compatible_set_problem(
    candidates: Sequence[int], guard: int, products: Sequence[str]
) -> Problem:
    """Ask for the largest set of channels none of whose products comes within a guard of a member.

    The convention of the set: the guard is inclusive, and a product counts against its own
    generators too. ``2A-B`` within `guard` of ``A`` is ``abs(A - B) <= guard``, a separation of
    ``guard + 1``; of ``B`` it is half as strict. ``A+B-C`` within `guard` of ``A`` is a separation
    again, and of ``C`` it is ``abs(A + B - 2C) <= guard``: exactly what ``2C-A`` on ``B`` asks. So
    the own generators add a separation of ``guard + 1``, and where ``A+B-C`` counts, ``2A-B`` does.

    Parameters
    ----------
    candidates : sequence of int
        Channels to choose from.
    guard : int
        Inclusive distance, in channels.
    products : sequence of str
        ``"2a-b"`` and ``"a+b-c"``.

    Returns
    -------
    Problem
        As many like links as there are candidates; the links served are the set.

    Examples
    --------
    >>> from sidon.bench.loaders import compatible_set_problem
    >>> len(compatible_set_problem([0, 1, 4, 6], 0, ["2a-b"]))
    4
    """
    known = {"2a-b": "2A-B", "a+b-c": "A+B-C"}
    unknown = sorted(set(products) - set(known))
    if unknown:
        raise _unreadable(1, f"product {unknown[0]!r} is not known")
    forms = {known[product] for product in products} | {"2A-B"}
    return Problem.simple(
        list(candidates),
        count=len(candidates),
        separation=guard + 1,
        guards=dict.fromkeys(sorted(forms), guard + 1),
    )


PRODUCT_RULES: dict[str, tuple[str, ...]] = {
    "no_3AP": ("2A-B",),
    "sidon": ("2A-B", "A+B-C"),
    "weak_sidon": ("A+B-C",),
    "two_tone_im3_im5": ("2A-B", "3A-2B"),
    "two_tone_im3_im5_im7": ("2A-B", "3A-2B", "4A-3B"),
    "B3": (
        *("2A-B", "A+B-C"),
        *("3A-2B", "3A-B-C", "2A+B-2C", "2A+B-C-D", "A+B+C-2D", "A+B+C-D-E"),
    ),
}
"""Products that must miss every mark, by the set's name of the rule."""


def ruler_problem(rule: str, marks: int, length: int) -> Problem:
    """Ask for so many marks on a length, none of them met by a product of others.

    Parameters
    ----------
    rule : str
        A key of `PRODUCT_RULES`.
    marks : int
        How many are known to fit.
    length : int
        From the first to the last.

    Returns
    -------
    Problem
        One link for each mark; those served are the set.

    Examples
    --------
    >>> import sidon
    >>> from sidon.bench.loaders import ruler_problem
    >>> sidon.solve(ruler_problem("sidon", 4, 6), iterations=1_000).refused
    0
    """
    guards = dict.fromkeys(PRODUCT_RULES[rule], 1)
    return Problem.simple(range(length + 1), count=marks, separation=1, guards=guards)


def read_json(path: Path) -> dict[str, Any]:
    """Read a JSON file that holds an object."""
    fields: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return fields
