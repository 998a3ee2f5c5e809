"""How plans and studies print a frequency inside a sentence or a table: as `sidon.units` does."""

from __future__ import annotations

from sidon.units import mhz_text

__all__ = ["mhz_text"]
