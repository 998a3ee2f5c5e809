"""The first moments of the command line: Ctrl-C while the libraries load ends it in one line."""

from __future__ import annotations

import os
import signal
import sys
import threading
from pathlib import PurePath
from types import FrameType

__all__ = ["end", "is_command"]

_INTERRUPTED = 130


def is_command() -> bool:
    """Tell whether this process was started as the command line; a library leaves signals alone."""
    return bool(sys.argv) and PurePath(sys.argv[0]).stem == "sidon"


def _begin() -> None:
    # What was ignored when the process began, as in the background of a shell, stays ignored.
    if is_command() and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        _set(_leave)


def end() -> None:
    """Give Ctrl-C its usual meaning back."""
    if signal.getsignal(signal.SIGINT) is _leave:
        _set(signal.default_int_handler)


def _set(handler: signal._HANDLER) -> None:
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, handler)


def _leave(_number: int, _frame: FrameType | None) -> None:
    # Not by an exception: a library that is half loaded turns it into an error of its own.
    os.write(2, b"sidon: stopped; nothing is written\n")
    os._exit(_INTERRUPTED)


_begin()
