"""How many carriers fit at a place, of each kind of equipment, now and in some years."""

from sidon.capacity.in_ears import in_ear_transmitters
from sidon.capacity.result import Capacity, Mix, Row, WhatIf

__all__ = ["Capacity", "Mix", "Row", "WhatIf", "in_ear_transmitters"]
