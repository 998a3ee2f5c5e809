"""Ctrl-C during a search: an answer at once, the best plan written, further ones ignored."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
from types import FrameType, TracebackType
from typing import Any, Protocol, Self

from sidon._start import is_command

__all__ = ["STOPPING", "Interrupts"]

STOPPING = "sidon: stopping; writing the best plan so far\n"


class Shown(Protocol):
    """What shows the moments of a search."""

    def __call__(self, moment: Any, /) -> object:  # noqa: ANN401 - each search has its own
        """Take note of a moment."""

    def hush(self) -> bool:
        """Fall silent; whether there is a line that renews itself and has not ended."""


class Interrupts:
    """Listens for Ctrl-C from the start of a search until everything is written.

    Parameters
    ----------
    progress : Shown or None
        What shows the search; it falls silent once the search is stopped.
    saying : str, optional
        What is said at once, with its line end.

    Attributes
    ----------
    asked : bool
        Whether Ctrl-C was pressed.
    """

    def __init__(self, progress: Shown | None, saying: str = STOPPING) -> None:
        self.asked = False
        self._saying = saying
        self._progress = progress
        self._begun = False
        self._before: signal._HANDLER = None

    def __enter__(self) -> Self:
        current = signal.getsignal(signal.SIGINT)
        in_charge = threading.current_thread() is threading.main_thread()
        if in_charge and current not in (None, signal.SIG_IGN):
            self._before = signal.signal(signal.SIGINT, self._take)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._before is None:
            return
        # A process that was told to stop is about to end: one more Ctrl-C has nothing to add.
        ending = self.asked and is_command()
        signal.signal(signal.SIGINT, signal.SIG_IGN if ending else self._before)

    def watch(self, moment: object) -> bool:
        """Take note of a moment of the search; whether it should end."""
        self._begun = True
        if self._progress is not None:
            self._progress(moment)
        return self.asked

    def _take(self, _number: int, _frame: FrameType | None) -> None:
        if self.asked:
            return
        self.asked = True
        renewing = self._progress is not None and self._progress.hush()
        # Not through the stream, which may be at work in the code that this interrupts.
        with contextlib.suppress(OSError, ValueError):
            os.write(sys.stderr.fileno(), (("\n" if renewing else "") + self._saying).encode())
        # A search under way is told by its next report, so that nothing it found is lost. One
        # that has not begun has nothing to lose.
        if not self._begun:
            raise KeyboardInterrupt
