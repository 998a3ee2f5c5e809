"""Why something does not fit: links and rules in conflict, and what each relaxation buys."""

from sidon.event.explain.conflict import Conflict, Group, find_conflict
from sidon.event.explain.explanation import Explanation, explain
from sidon.event.explain.gains import Bought
from sidon.event.explain.relax import Relaxation, relaxations
from sidon.event.explain.rules import Rule

__all__ = [
    "Bought",
    "Conflict",
    "Explanation",
    "Group",
    "Relaxation",
    "Rule",
    "explain",
    "find_conflict",
    "relaxations",
]
