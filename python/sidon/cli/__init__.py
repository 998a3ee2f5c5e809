"""The command line: `sidon plan`, `sidon check`, `sidon demo` and the rest."""

from sidon.cli.main import main

__all__ = ["main"]
