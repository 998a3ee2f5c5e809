"""What exists: generic classes of equipment, to be replaced by the maker's figures."""

from sidon.equipment.catalogue import Catalogue, classes

__all__ = ["Catalogue", "classes"]
