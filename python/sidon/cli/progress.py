"""The progress of a search: one line that renews itself on a terminal, plain lines elsewhere."""

from __future__ import annotations

from typing import Protocol, TextIO

__all__ = ["Moment", "Progress"]

_RENEWAL_S = 0.1
_LINES_S = 0.5


class Moment(Protocol):
    """What a search tells about one moment."""

    @property
    def time_s(self) -> float:
        """Seconds since the search began."""

    @property
    def refused(self) -> int:
        """Links without a carrier in the plan at hand."""

    @property
    def unserved(self) -> int:
        """Their summed weight."""

    @property
    def hard(self) -> int:
        """Rules broken in the plan at hand."""


class Progress:
    """Shows the best plan so far.

    Parameters
    ----------
    stream : text stream
        Where to, usually standard error.
    asked : int
        Links that are asked for.
    """

    def __init__(self, stream: TextIO, *, asked: int) -> None:
        self._stream = stream
        self._asked = asked
        self._terminal = stream.isatty()
        self._pause_s = _RENEWAL_S if self._terminal else _LINES_S
        self._best: tuple[int, int, int] | None = None
        self._drawn_s = -_LINES_S
        self._owed: float | None = None
        self._width = 0

    def __call__(self, moment: Moment) -> bool:
        """Take note of a moment; never asks the search to end."""
        found = (moment.hard, moment.unserved, moment.refused)
        better = self._best is None or found < self._best
        if better:
            self._best = found
        if better or self._terminal:
            self._owed = moment.time_s
        if self._owed is not None and moment.time_s - self._drawn_s >= self._pause_s:
            self._show(moment.time_s)
        return False

    def close(self) -> None:
        """Show what is still owed, and end the line that renews itself."""
        if self._owed is not None:
            self._show(self._owed)
        if self._terminal and self._width:
            self._stream.write("\n")
            self._stream.flush()
            self._width = 0

    def _show(self, time_s: float) -> None:
        line = self._line(time_s)
        if self._terminal:
            self._stream.write("\r" + line.ljust(self._width))
            self._width = len(line)
        else:
            self._stream.write(line + "\n")
        self._stream.flush()
        self._drawn_s, self._owed = time_s, None

    def _line(self, time_s: float) -> str:
        hard, _, refused = self._best or (0, 0, self._asked)
        served = max(0, self._asked - refused)
        broken = f", {hard} rules broken" if hard else ""
        return f"{time_s:7.2f} s  served {served} of {self._asked} links, refused {refused}{broken}"
