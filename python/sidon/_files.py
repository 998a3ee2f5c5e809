"""Writing files whole or not at all: under a temporary name beside it, then moved into place."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

__all__ = ["write_text", "write_with"]


def write_text(path: str | Path, text: str) -> None:
    """Write UTF-8 text whole or not at all.

    Parameters
    ----------
    path : str or Path
        Where to; an existing file is replaced in one step.
    text : str
        What to write; line ends are written as they are.

    Raises
    ------
    OSError
        When it cannot be written; what stood there before still does.
    """
    write_with(path, lambda file: file.write(text.encode()))


def write_with(path: str | Path, write: Callable[[BinaryIO], object]) -> None:
    """Let a function write a file, whole or not at all.

    Parameters
    ----------
    path : str or Path
        Where to; an existing file is replaced in one step.
    write : callable
        Given the open binary file.

    Raises
    ------
    OSError
        When it cannot be written; what stood there before still does.
    """
    # A link is followed, so that it keeps pointing at what it points at.
    path = Path(path).resolve()
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(descriptor, "wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        # A temporary file is private to its owner; the finished one has the mode it would have had.
        Path(name).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            Path(name).unlink()
        raise
    _settle(path.parent)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _settle(directory: Path) -> None:
    """Make the new name itself durable, where the system lets a directory be synced."""
    with contextlib.suppress(OSError):
        descriptor = os.open(directory, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
