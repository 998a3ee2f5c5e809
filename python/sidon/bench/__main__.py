"""``python -m sidon.bench FAMILY``: run benchmark families and write what came out."""

from __future__ import annotations

import argparse
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from sidon._registry import methods
from sidon.bench.families import FAMILIES, family_names, load_family
from sidon.bench.plot import anytime_plot
from sidon.bench.runner import run
from sidon.bench.tables import csv_text, family_table, gap_table
from sidon.exceptions import SidonError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sidon.bench.runner import Curve

__all__ = ["main"]

_DEFAULT_METHODS = ("dsatur", "tabucol", "partialcol", "portfolio")
_OVERHEAD = 1.1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m sidon.bench",
        formatter_class=argparse.ArgumentDefaultsHelpFormatter,
        description="Run the instances of benchmark families with several methods and seeds, check "
        "every answer, and write for each family the rows (CSV), a table of gaps (Markdown) and an "
        "anytime plot, and for several one table of all.",
    )
    parser.add_argument("family", nargs="+", choices=[*sorted(FAMILIES), "all"])
    parser.add_argument(
        "--path",
        type=Path,
        default=Path("../shared/benchmarks"),
        metavar="FOLDER",
        help="where the published sets are, one folder a collection",
    )
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("bench"),
        metavar="FOLDER",
        help="where to write; files of the same names are replaced",
    )
    parser.add_argument("--seconds", type=float, default=60.0, help="budget of each run")
    parser.add_argument("--seeds", type=int, default=10, help="how many; they are 1, 2, ...")
    parser.add_argument("--threads", type=int, default=2, help="of each run")
    parser.add_argument("--jobs", type=int, default=1, help="runs at a time")
    parser.add_argument(
        "--total-seconds",
        type=float,
        metavar="SECONDS",
        help="begin no run that would end later than this after the start",
    )
    parser.add_argument(
        "--to-best-known",
        action="store_true",
        help="end a run as soon as it meets the best known value",
    )
    parser.add_argument("--instances", default="*", metavar="PATTERN", help="such as 'P*'")
    parser.add_argument(
        "--methods",
        nargs="+",
        metavar="METHOD",
        default=list(_DEFAULT_METHODS),
        help="built in or registered by a package: " + ", ".join(methods()),
    )
    return parser


def _unknown(options: argparse.Namespace) -> str | None:
    """Return what is wrong with the options that argparse cannot tell."""
    known = methods()
    strange = [repr(name) for name in options.methods if name not in known]
    if strange:
        return f"no method is named {', '.join(strange)}; there are {', '.join(known)}"
    for name in ("seeds", "threads", "jobs"):
        if getattr(options, name) < 1:
            return f"--{name} is {getattr(options, name)}; give 1 or more"
    if not options.seconds > 0:
        return f"--seconds is {options.seconds:g}; give more than 0"
    if not options.path.is_dir():
        return f"--path {options.path} is no folder; name the one with the benchmark sets"
    if options.out.exists() and not options.out.is_dir():
        return f"--out {options.out} is a file; name a folder, or a new one"
    return None


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
        run; 130 after an interrupt, with what was run until then written.
    """
    options = _parser().parse_args(arguments)
    fault = _unknown(options)
    if fault:
        sys.stderr.write(f"{fault}\n")
        return 2
    families = list(dict.fromkeys(options.family))
    if "all" in families:
        families = sorted(FAMILIES)
    begun = time.monotonic()
    until = None if options.total_seconds is None else begun + options.total_seconds
    code = 0
    all_curves: list[Curve] = []
    for family in families:
        curves: list[Curve] = []
        try:
            planned = _announce(family, options)
            for curve in run(
                family,
                load_family(family, options.path, options.instances),
                methods=options.methods,
                seeds=range(1, options.seeds + 1),
                seconds=options.seconds,
                threads=options.threads,
                jobs=options.jobs,
                until=until,
                to_best_known=options.to_best_known,
            ):
                curves.append(curve)
                _tell(curve, len(curves), planned, time.monotonic() - begun)
            if planned == 0 and len(families) == 1:
                sys.stderr.write(f"no instance is named {options.instances!r}\n")
                code = 2
            elif len(curves) < planned:
                left = planned - len(curves)
                sys.stderr.write(f"{family}: {left} runs were left out for want of time\n")
        except SidonError as error:
            # What was run before is not thrown away.
            sys.stderr.write(f"{error}\n")
            code = 2
        except KeyboardInterrupt:
            code = 128 + signal.SIGINT
        _write(family, curves, options.out, show=len(families) == 1)
        all_curves += curves
        if code == 128 + signal.SIGINT:
            break
    if len(families) > 1 and all_curves:
        table = family_table([curve.row for curve in all_curves])
        (options.out / "families.md").write_text(table, encoding="utf-8")
        sys.stdout.write(table)
    return code or int(not all(curve.row.checked for curve in all_curves))


def _announce(family: str, options: argparse.Namespace) -> int:
    """Say how many runs there will be and how long they may take; their number."""
    instances = family_names(family, options.path, options.instances)
    planned = len(instances) * len(options.methods) * int(options.seeds)
    minutes = planned * options.seconds * _OVERHEAD / options.jobs / 60
    sys.stderr.write(
        f"{family}: {len(instances)} instances, {planned} runs, at most {minutes:.0f} min\n"
    )
    return planned


def _tell(curve: Curve, number: int, planned: int, elapsed_s: float) -> None:
    row = curve.row
    sys.stderr.write(
        f"[{number}/{planned}, {elapsed_s:.0f} s] "
        f"{row.instance}  {row.method}  seed {row.seed}: {row.measure} {row.value}"
        f" (best known {row.best_known}) after {row.time_to_best_s:.2f} s\n"
    )


def _write(family: str, curves: Sequence[Curve], out: Path, *, show: bool) -> None:
    if not curves:
        return
    out.mkdir(parents=True, exist_ok=True)
    rows = [curve.row for curve in curves]
    stem = out / family
    stem.with_suffix(".csv").write_text(csv_text(rows), encoding="utf-8")
    table = gap_table(rows)
    stem.with_suffix(".md").write_text(table, encoding="utf-8")
    anytime_plot(curves, stem.with_suffix(".png"))
    if show:
        sys.stdout.write(table)


if __name__ == "__main__":
    sys.exit(main())
