"""The plan: all assignments of a study, what was refused and why."""

from sidon.plan.plan import Assignment, Plan, Refusal

__all__ = ["Assignment", "Plan", "Refusal"]
