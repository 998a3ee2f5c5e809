"""The progress of a search: one line that renews itself on a terminal, plain lines elsewhere."""

from __future__ import annotations

import os
import threading
import time
from dataclasses import dataclass
from itertools import accumulate
from typing import Protocol, TextIO

from sidon.study import Study

__all__ = ["Asked", "Moment", "Progress"]

_RENEWAL_S = 0.1
_LINES_S = 0.5
_SIGN_OF_LIFE_S = 0.5


class Moment(Protocol):
    """What a search tells about one moment."""

    @property
    def time_s(self) -> float:
        """Seconds since the search began."""

    @property
    def restart(self) -> int:
        """The restart it belongs to."""

    @property
    def iteration(self) -> int:
        """Iterations of this restart so far."""

    @property
    def refused(self) -> int:
        """Links without a carrier in the plan at hand."""

    @property
    def unserved(self) -> int:
        """Their summed weight."""

    @property
    def hard(self) -> int:
        """Rules broken in the plan at hand."""


@dataclass(frozen=True)
class Asked:
    """The links that are asked for, by what leaving them unserved weighs.

    Parameters
    ----------
    required, spares : tuple of int
        The priorities of the required links, and of the spares, ascending. A required link weighs
        its priority times one more than all spares together.
    """

    required: tuple[int, ...]
    spares: tuple[int, ...] = ()

    @classmethod
    def of(cls, study: Study) -> Asked:
        """Count what a study asks for; its foreign carriers are none of it."""
        demand = study.model.demand
        required = [row.priority for row in demand for _ in range(row.size)]
        spares = [row.priority for row in demand for _ in range(row.spare_count)]
        spares += [row.priority for row in study.model.spares for _ in range(row.count)]
        return cls(tuple(sorted(required)), tuple(sorted(spares)))

    @property
    def links(self) -> int:
        """How many there are, spares included."""
        return len(self.required) + len(self.spares)

    def parted(self, refused: int, unserved: int) -> tuple[int, int] | None:
        """Tell required links from spares among those refused.

        Parameters
        ----------
        refused, unserved : int
            How many are refused, and their summed weight.

        Returns
        -------
        (int, int) or None
            Required links and spares; None when the weight leaves it open.
        """
        first, second = divmod(unserved, sum(self.spares) + 1)
        spares = _counts(self.spares, second)
        fits = [n for n in _counts(self.required, first) if refused - n in spares]
        return (fits[0], refused - fits[0]) if len(fits) == 1 else None


def _counts(ascending: tuple[int, ...], total: int) -> range:
    """How many of these may sum to a total: at most the smallest ones, at least the largest."""
    most = sum(reached <= total for reached in accumulate(ascending))
    least = sum(reached < total for reached in accumulate(reversed(ascending))) + (total > 0)
    return range(least, most + 1)


class Progress:
    """Shows the best plan so far.

    Parameters
    ----------
    stream : text stream
        Where to, usually standard error.
    asked : Asked
        Links that are asked for.
    iterations, seconds : int, float, optional
        The limits of the search.
    """

    def __init__(
        self,
        stream: TextIO,
        *,
        asked: Asked,
        iterations: int | None = None,
        seconds: float | None = None,
    ) -> None:
        self._stream = stream
        self._asked = asked
        self._limits = iterations, seconds
        self._terminal = stream.isatty()
        self._pause_s = _RENEWAL_S if self._terminal else _LINES_S
        self._best: tuple[int, int, int] | None = None
        self._iterations: dict[int, int] = {}
        self._drawn_s = -_LINES_S
        self._owed: float | None = None
        self._width = 0
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._hushed = False
        self._began = time.monotonic()
        self._pulse: threading.Thread | None = None
        if self._terminal:
            # A single step of a large search may take longer than a reader waits for a sign.
            self._pulse = threading.Thread(target=self._beat, daemon=True)
            self._pulse.start()

    def __call__(self, moment: Moment) -> None:
        """Take note of a moment."""
        found = (moment.hard, moment.unserved, moment.refused)
        with self._lock:
            done = self._iterations.get(moment.restart, 0)
            self._iterations[moment.restart] = max(done, moment.iteration)
            better = self._best is None or found < self._best
            if better:
                self._best = found
            if better or self._terminal:
                self._owed = moment.time_s
            if self._owed is not None and moment.time_s - self._drawn_s >= self._pause_s:
                self._show(moment.time_s)

    def hush(self) -> bool:
        """Fall silent; whether there is a line that renews itself and has not ended."""
        self._hushed = True
        renewing = self._terminal and self._width > 0
        self._width = 0
        return renewing

    def close(self) -> None:
        """Show what is still owed, and end the line that renews itself."""
        self._ended.set()
        if self._pulse is not None:
            self._pulse.join()
        with self._lock:
            if self._owed is not None:
                self._show(self._owed)
            if self._terminal and self._width:
                self._stream.write("\n")
                self._stream.flush()
                self._width = 0

    def _beat(self) -> None:
        while not self._ended.wait(_SIGN_OF_LIFE_S):
            with self._lock:
                now = time.monotonic() - self._began
                if now - self._drawn_s >= _SIGN_OF_LIFE_S:
                    self._show(now)

    def _show(self, time_s: float) -> None:
        self._drawn_s, self._owed = time_s, None
        if self._hushed:
            return
        line = self._line(time_s)
        if self._terminal:
            # A line that wraps can no longer be renewed.
            line = line[: _columns(self._stream) - 1]
            self._stream.write("\r" + line.ljust(self._width))
            self._width = len(line)
        else:
            self._stream.write(line + "\n")
        self._stream.flush()

    def _line(self, time_s: float) -> str:
        clock = f"{time_s:6.1f} s"
        if self._best is None:
            return f"{clock}  preparing"
        hard, unserved, refused = self._best
        parts = self._asked.parted(refused, unserved)
        told = f"{parts[0]} required + {parts[1]} spare" if parts else f"{refused}, some required"
        broken = f", {hard} rules broken" if hard else ""
        served = f"served {max(0, self._asked.links - refused)} of {self._asked.links}"
        return f"{clock}  {served}, refused {told}{broken}; {self._work(time_s)}"

    def _work(self, time_s: float) -> str:
        limit, seconds = self._limits
        done = f"{sum(self._iterations.values()):,}"
        left = f"{max(0.0, seconds - time_s):.0f} s left, " if seconds else ""
        return f"{left}{done} of {limit:,} iterations" if limit else f"{left}{done} iterations"


def _columns(stream: TextIO) -> int:
    try:
        return os.get_terminal_size(stream.fileno()).columns or 80
    except (OSError, ValueError):
        return 80
