"""What a consultant asks: place, availability, profiles, zones, demand, windows, locks."""

from sidon.study.study import Study

__all__ = ["Study"]
