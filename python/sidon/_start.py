"""The first moments of the command line: Ctrl-C while the libraries load ends it in one line."""

from __future__ import annotations

import os
import signal
import sys
import threading
from pathlib import PurePath
from types import FrameType

__all__ = ["end"]

_INTERRUPTED = 130


def _begin() -> None:
    # A library must leave signals alone: only a process that was started as the command line is
    # changed.
    started_as = PurePath(sys.argv[0]).stem if sys.argv else ""
    # What was ignored when the process began, as in the background of a shell, stays ignored.
    if started_as == "sidon" and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
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
