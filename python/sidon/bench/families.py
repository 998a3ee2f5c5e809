"""The benchmark families: where their files are, what is asked, and what is best known."""

from __future__ import annotations

from collections.abc import Mapping
from fnmatch import fnmatch
from typing import TYPE_CHECKING, Any

from sidon.bench import loaders
from sidon.bench.instance import Instance
from sidon.bench.radio_links import Ask, radio_link_problem
from sidon.exceptions import UnreadableError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from sidon._options import Objective
    from sidon.bench.instance import Measure

__all__ = ["FAMILIES", "family_names", "load_family"]

Lazy = tuple[str, "Callable[[], Instance]"]
Fields = Mapping[str, Any]


def _philadelphia(root: Path) -> Iterator[Lazy]:
    for path in sorted((root / "philadelphia").glob("*.json")):

        def load(path: Path = path) -> Instance:
            file = loaders.read_json(path)
            span = file.get("best_known_span")
            matrix, demand = file["separation_matrix"], file["demand"]
            return Instance(
                name=path.stem,
                problem=loaders.cellular_problem(demand, matrix),
                objective="min-span",
                measure="span",
                best_known=span,
            )

        yield path.stem, load


def _dimacs(root: Path) -> Iterator[Lazy]:
    known = loaders.read_json(root / "dimacs" / "best_known.json")
    text = {
        path.name.removesuffix(".col"): path for path in (root / "dimacs" / "col").glob("*.col")
    }
    binary = {
        path.name.removesuffix(".col.b"): path for path in (root / "dimacs" / "bin").glob("*.col.b")
    }
    for name in sorted(text.keys() | binary.keys()):

        def load(name: str = name) -> Instance:
            graph = (
                loaders.read_graph(text[name])
                if name in text
                else loaders.read_dimacs_binary(binary[name])
            )
            return Instance(
                name=name,
                problem=loaders.colouring_problem(graph),
                objective="min-span",
                measure="channels",
                best_known=known.get(name, {}).get("best_known"),
            )

        yield name, load


def _geom(root: Path, *, multi: bool) -> Iterator[Lazy]:
    known = loaders.read_json(root / "bmcp" / "best_known.json")["geom"]
    build = loaders.multicolouring_problem if multi else loaders.bandwidth_problem
    for path in sorted((root / "bmcp" / "geom").glob("*.col")):

        def load(path: Path = path) -> Instance:
            entry = known.get(path.stem, {}).get("BMCP" if multi else "BCP", {})
            return Instance(
                name=path.stem,
                problem=build(loaders.read_graph(path)),
                objective="min-span",
                measure="channels",
                best_known=entry.get("best_known"),
            )

        yield path.stem, load


_FORBIDDEN = 100_000_000
"""The weight by which the fixed-spectrum sets say that a rule must hold."""


def _fixed_spectrum(root: Path) -> Iterator[Lazy]:
    for name, entry in loaders.read_json(root / "fsfap" / "best_known.json").items():
        path = root / "fsfap" / entry["file"]
        for result in entry["results"] if path.exists() else ():

            def load(path: Path = path, name: str = name, result: Fields = result) -> Instance:
                values = [result.get("best_known"), result.get("reached_here")]
                return Instance(
                    name=f"{name} F={result['channels']}",
                    problem=loaders.fixed_spectrum_problem(
                        path, result["channels"], hard_weight=_FORBIDDEN
                    ),
                    objective="min-interference",
                    measure="cost",
                    best_known=min((v for v in values if v is not None), default=None),
                )

            yield f"{name} F={result['channels']}", load


_ASKS: dict[str, tuple[Ask, Objective, Measure]] = {
    "min_order": ("order", "min-order", "order"),
    "min_range": ("range", "min-span", "span"),
    "min_max_frequency": ("highest", "min-span", "span"),
    "min_cost": ("cost", "min-interference", "cost"),
}


def _calma(root: Path) -> Iterator[Lazy]:
    for name, entry in loaders.read_json(root / "calma" / "best_known.json").items():
        folder = root / "calma" / name
        asked = entry["objectives"] if folder.is_dir() else {}
        for key, value in asked.items():
            if not value.get("official", False):
                continue

            def load(folder: Path = folder, key: str = key, value: Fields = value) -> Instance:
                ask, objective, measure = _ASKS[key]
                own = folder / "dom.txt"
                problem = radio_link_problem(
                    folder / "var.txt",
                    own if own.exists() else folder.parent / "dom.txt",
                    folder / "ctr.txt",
                    ask=ask,
                    weights=value.get("a1_a4", (1000, 100, 10, 1)),
                    mobility=value.get("b1_b4", (0, 0, 0, 0)),
                )
                return Instance(
                    name=f"{folder.name} {key}",
                    problem=problem,
                    objective=objective,
                    measure=measure,
                    best_known=value["value"],
                )

            yield f"{name} {key}", load


def _satisfaction(root: Path) -> Iterator[Lazy]:
    folder = root / "rlfap_csp"
    for name, entry in loaders.read_json(folder / "status.json")["instances"].items():

        def load(name: str = name, entry: Fields = entry) -> Instance:
            return Instance(
                name=name,
                problem=radio_link_problem(
                    *(folder / f"{kind}{name}.txt" for kind in ("var", "dom", "ctr")),
                    ask="satisfy",
                    counted=True,
                ),
                objective="min-interference",
                measure="hard",
                # How many rules an unsatisfiable one must break is not known.
                best_known=0 if entry["satisfiable"] else None,
            )

        yield name, load


def _compatible(root: Path) -> Iterator[Lazy]:
    for entry in loaders.read_json(root / "im" / "max_compatible.json")["instances"]:

        def load(entry: Fields = entry) -> Instance:
            return Instance(
                name=entry["id"],
                problem=loaders.compatible_set_problem(
                    entry["candidates"], entry["guard"], entry["products"]
                ),
                objective="max-service",
                measure="served",
                best_known=entry["max_compatible"],
            )

        yield entry["id"], load


_LEAST_MARKS = 8
"""Shorter rulers are found by anything."""


def _rulers(root: Path) -> Iterator[Lazy]:
    folder = root / "golomb"
    golomb = loaders.read_json(folder / "golomb_rulers.json")
    rows = [("sidon", row["n"], row["length"]) for key in _GOLOMB for row in golomb[key]]
    tables = loaders.read_json(folder / "im_free_min_length.json")["tables"]
    for rule in loaders.PRODUCT_RULES:
        if rule != "sidon":
            rows += [(rule, row["n"], row["min_length"]) for row in tables[rule]["rows"]]
    for rule, marks, length in rows:

        def load(rule: str = rule, marks: int = marks, length: int = length) -> Instance:
            return Instance(
                name=f"{rule} {marks}",
                problem=loaders.ruler_problem(rule, marks, length),
                objective="max-service",
                measure="served",
                best_known=marks,
            )

        if marks >= _LEAST_MARKS or rule == "B3":
            yield f"{rule} {marks}", load


_GOLOMB = ("optimal", "best_known_not_proved_length_only")

FAMILIES: dict[str, Callable[[Path], Iterator[Lazy]]] = {
    "philadelphia": _philadelphia,
    "dimacs": _dimacs,
    "bcp": lambda root: _geom(root, multi=False),
    "bmcp": lambda root: _geom(root, multi=True),
    "fsfap": _fixed_spectrum,
    "calma": _calma,
    "rlfap": _satisfaction,
    "compatible": _compatible,
    "rulers": _rulers,
}
"""Readers by family: cellular sets, graph colouring, bandwidth colouring and multicolouring, fixed
spectrum, radio links as minimisation and as satisfaction, compatible sets, shortest sets free of
products."""


def family_names(family: str, root: Path, pattern: str = "*") -> list[str]:
    """List the instances of a family without reading them; see `load_family`."""
    return [name for name, _ in _found(family, root, pattern)]


def _found(family: str, root: Path, pattern: str) -> list[Lazy]:
    try:
        return [lazy for lazy in FAMILIES[family](root) if fnmatch(lazy[0], pattern)]
    except FileNotFoundError as error:
        what = f"the {family} family"
        raise UnreadableError(
            what,
            str(error),
            "name the folder of the benchmark sets with --path",
        ) from error


def load_family(family: str, root: Path, pattern: str = "*") -> Iterator[Instance]:
    """Load the instances of a family one by one.

    Parameters
    ----------
    family : str
        A key of `FAMILIES`.
    root : pathlib.Path
        The folder of the benchmark sets.
    pattern : str, optional
        Shell pattern of instance names.

    Yields
    ------
    Instance
        In order of name.

    Raises
    ------
    UnreadableError
        The files of the family are not there, or not of their format.
    """
    for _, load in _found(family, root, pattern):
        yield load()
