"""Writing files whole or not at all: under a temporary name beside it, then moved into place."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from sidon.exceptions import Fault, PlanError, StudyError

__all__ = ["NAME_A_FILE", "read_text", "what_else", "write_text", "write_with"]

NAME_A_FILE = "name a regular file, or a new one"

_KINDS = {
    stat.S_IFDIR: "a directory",
    stat.S_IFIFO: "a named pipe",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFSOCK: "a socket",
}


def what_else(path: str | Path) -> str | None:
    """Say what stands at a path if it is no regular file, and so must not be replaced.

    Parameters
    ----------
    path : str or Path
        Links are followed.

    Returns
    -------
    str or None
        Such as "a directory"; None for a regular file, and where there is nothing.
    """
    try:
        mode = Path(path).stat().st_mode
    except OSError:
        return None
    return None if stat.S_ISREG(mode) else _KINDS.get(stat.S_IFMT(mode), "no regular file")


def read_text(path: str | Path) -> str:
    """Read a UTF-8 text file, with or without a byte-order mark.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    str
        What it holds.

    Raises
    ------
    StudyError
        When it is no UTF-8 text; the place names the line.
    OSError
        When it cannot be read.
    """
    raw = Path(path).read_bytes()
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = f"{Path(path).name}, line {raw[: error.start].count(10) + 1}"
        fault = Fault(place, "it is not UTF-8 text", "save it as UTF-8")
        raise StudyError([fault]) from None


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
    PlanError
        When something that is no regular file stands there; it is left alone.
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
    PlanError
        When something that is no regular file stands there; it is left alone.
    OSError
        When it cannot be written; what stood there before still does.
    """
    kind = what_else(path)
    if kind is not None:
        what = f"{path} is {kind}; {NAME_A_FILE}"
        raise PlanError(what)
    # A link is followed, so that it keeps pointing at what it points at.
    path = Path(path).resolve()
    with _called(path):
        descriptor, name = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.name}.", suffix=".part"
        )
    try:
        with _called(path), os.fdopen(descriptor, "wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        # A temporary file is private to its owner; the finished one has the mode it would have had.
        with _called(path):
            Path(name).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
            Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            Path(name).unlink()
        raise
    _settle(path.parent)


@contextlib.contextmanager
def _called(path: Path) -> Iterator[None]:
    """Let an error speak of the file that was asked for, not of the temporary one beside it."""
    try:
        yield
    except OSError as error:
        error.filename = str(path)
        raise


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
