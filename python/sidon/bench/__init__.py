"""Benchmarks: published instances, the methods on them, and tables of what came out.

``python -m sidon.bench FAMILY`` runs every instance of a family with several methods and seeds,
checks every answer independently, and writes the rows as CSV, a table of gaps to the best known
values, and an anytime plot. The instance files are not part of the package; ``--path`` says where
they are.
"""

from sidon.bench.families import FAMILIES, load_family
from sidon.bench.instance import Instance
from sidon.bench.runner import Row, run

__all__ = ["FAMILIES", "Instance", "Row", "load_family", "run"]
