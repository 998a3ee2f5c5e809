"""Frequencies and distances as a study writes them."""

from sidon._quantity import Carrier, Distance, Range, Step, read_hz, refuse

__all__ = ["Carrier", "Distance", "Range", "Step", "read_hz", "refuse"]
