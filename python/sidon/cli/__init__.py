"""The command line: `sidon plan`, `sidon check`, `sidon demo`."""

from sidon.cli.main import main

__all__ = ["main"]
