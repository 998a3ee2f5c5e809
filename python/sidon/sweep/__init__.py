"""Many plans at once: places, equipment, what-ifs and seeds, through any executor."""

from sidon.sweep.case import Case, Variations, cases
from sidon.sweep.changes import Changes, changed
from sidon.sweep.run import Outcome, plan_case, sweep, unfinished
from sidon.sweep.table import best, columns

__all__ = [
    "Case",
    "Changes",
    "Outcome",
    "Variations",
    "best",
    "cases",
    "changed",
    "columns",
    "plan_case",
    "sweep",
    "unfinished",
]
