"""Requests of the parties of an event: read from a table, asked as demand, answered one by one."""

from sidon.event.requests.outcome import Outcome, outcome

__all__ = ["Outcome", "outcome"]
