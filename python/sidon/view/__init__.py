"""What people see of a plan: the picture of its spectrum."""

from sidon.view.spectrum import save, spectrum

__all__ = ["save", "spectrum"]
