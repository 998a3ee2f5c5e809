"""Living with an event: what its parties ask for, what changed, and what to change to."""

from sidon.event.party import write_sheets
from sidon.event.requests import Outcome, outcome

__all__ = ["Outcome", "outcome", "write_sheets"]
