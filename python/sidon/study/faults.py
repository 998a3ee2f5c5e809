"""From what the schema refuses to faults with a place, what is wrong, and a remedy."""

from sidon._faults import nearest, schema_faults

__all__ = ["nearest", "schema_faults"]
