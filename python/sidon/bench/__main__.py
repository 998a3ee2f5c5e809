"""``python -m sidon.bench FAMILY``: run a benchmark family and write what came out."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from sidon._options import Method
from sidon.bench.families import FAMILIES, load_family
from sidon.bench.plot import anytime_plot
from sidon.bench.runner import run
from sidon.bench.tables import csv_text, gap_table
from sidon.exceptions import SidonError

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["main"]

_DEFAULT_METHODS = ("dsatur", "tabucol", "partialcol", "portfolio")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m sidon.bench",
        description="Run the instances of a benchmark family with several methods and seeds, check "
        "every answer, and write the rows (CSV), a table of gaps (Markdown) and an anytime plot.",
    )
    parser.add_argument("family", choices=sorted(FAMILIES))
    parser.add_argument("--path", type=Path, default=Path("../shared/benchmarks"), metavar="FOLDER")
    parser.add_argument("--out", type=Path, default=Path("bench"), metavar="FOLDER")
    parser.add_argument("--seconds", type=float, default=60.0, help="budget of each run")
    parser.add_argument("--seeds", type=int, default=10, help="how many; they are 1, 2, ...")
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--instances", default="*", metavar="PATTERN", help="such as 'P*'")
    parser.add_argument(
        "--methods", nargs="+", choices=get_args(Method), default=list(_DEFAULT_METHODS)
    )
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process without.

    Returns
    -------
    int
        0 when every answer passed its check; 1 when one did not; 2 when something could not be
        run.
    """
    options = _parser().parse_args(arguments)
    curves = []
    code = 0
    try:
        for curve in run(
            options.family,
            load_family(options.family, options.path, options.instances),
            methods=options.methods,
            seeds=range(1, options.seeds + 1),
            seconds=options.seconds,
            threads=options.threads,
        ):
            curves.append(curve)
            row = curve.row
            sys.stderr.write(
                f"{row.instance}  {row.method}  seed {row.seed}: {row.measure} {row.value}"
                f" (best known {row.best_known}) after {row.time_to_best_s:.2f} s\n"
            )
        if not curves:
            sys.stderr.write(f"no instance is named {options.instances!r}\n")
            code = 2
    except SidonError as error:
        # What was run before is not thrown away.
        sys.stderr.write(f"{error}\n")
        code = 2
    if not curves:
        return code
    options.out.mkdir(parents=True, exist_ok=True)
    rows = [curve.row for curve in curves]
    stem = options.out / options.family
    stem.with_suffix(".csv").write_text(csv_text(rows), encoding="utf-8")
    table = gap_table(rows)
    stem.with_suffix(".md").write_text(table, encoding="utf-8")
    anytime_plot(curves, stem.with_suffix(".png"))
    sys.stdout.write(table)
    return code or int(not all(row.checked for row in rows))


if __name__ == "__main__":
    sys.exit(main())
