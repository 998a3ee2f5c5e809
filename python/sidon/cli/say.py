"""Where the command line's words go: results to standard output, the rest to standard error."""

from __future__ import annotations

import sys

__all__ = ["complain", "note", "say"]


def say(text: str) -> None:
    """Print a result.

    Parameters
    ----------
    text : str
        One or more lines without the last line end.
    """
    sys.stdout.write(text + "\n")


def note(text: str) -> None:
    """Print something beside the result.

    Parameters
    ----------
    text : str
        One or more lines without the last line end.
    """
    sys.stderr.write(text + "\n")


def complain(text: str) -> None:
    """Print what went wrong.

    Parameters
    ----------
    text : str
        One or more lines without the last line end.
    """
    note(f"sidon: {text}")
