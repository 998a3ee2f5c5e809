"""Living with an event: what its parties ask for, what changed, and what to change to.

`sidon.Plan` has the methods (`diff`, `alternatives`, `repair`, `what_if`, `spare_promise`); the
changes they take are here.
"""

from sidon.event.changes import (
    Arrive,
    Block,
    Change,
    Channel,
    Foreign,
    Hit,
    Leave,
    Rules,
    Swap,
    Unlock,
)
from sidon.event.party import write_sheets
from sidon.event.requests import Outcome, outcome

__all__ = [
    "Arrive",
    "Block",
    "Change",
    "Channel",
    "Foreign",
    "Hit",
    "Leave",
    "Outcome",
    "Rules",
    "Swap",
    "Unlock",
    "outcome",
    "write_sheets",
]
