"""The time or the iterations that were granted, shared out over many searches; and their stop."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Budget", "Grant", "Moment"]

_LEAST_S = 0.02


@dataclass(frozen=True, slots=True)
class Moment:
    """What a study of capacity tells about one moment.

    Parameters
    ----------
    time_s : float
        Seconds since it began.
    done, total : int
        Questions answered, and questions in all as far as is known.
    label : str
        The question at hand.
    """

    time_s: float
    done: int
    total: int
    label: str


@dataclass(frozen=True, slots=True)
class Grant:
    """What one search may use, as `sidon.largest_set` and `sidon.solve` take it."""

    seconds: float | None
    iterations: int | None

    def part(self, share: float) -> Grant:
        """Return a share of it."""
        return Grant(
            None if self.seconds is None else max(_LEAST_S, self.seconds * share),
            None if self.iterations is None else max(1, int(self.iterations * share)),
        )


class Budget:
    """What all searches together may use.

    Parameters
    ----------
    seconds : float or None
        Wall-clock time; what a search leaves over goes to those after it.
    iterations : int or None
        Iterations; every search has its share beforehand, so that answers can be repeated.
    progress : callable or None
        Told of every moment; returning True ends the work.
    """

    def __init__(
        self,
        seconds: float | None,
        iterations: int | None,
        progress: Callable[[Moment], object] | None,
    ) -> None:
        self._seconds = seconds
        self._iterations = iterations
        self._progress = progress
        self._began = time.monotonic()
        self.stopped = False
        self.done = 0
        self.total = 0

    @property
    def elapsed_s(self) -> float:
        """Seconds since the beginning."""
        return time.monotonic() - self._began

    def late(self, share: float = 1.0) -> bool:
        """Tell whether a share of the time is over."""
        return self._seconds is not None and self.elapsed_s >= share * self._seconds

    def grant(self, *, weight: int = 1, left: int, of: int, since: float, until: float) -> Grant:
        """Grant one of the searches of a phase its share.

        Parameters
        ----------
        weight : int, optional
            How much of it this one takes, compared with the others.
        left, of : int
            The weight of the searches that the phase has left, this one included, and that it had.
        since, until : float
            When the phase begins and ends, as shares of the whole.

        Returns
        -------
        Grant
            At least a little.
        """
        seconds = iterations = None
        if self._seconds is not None:
            seconds = max(_LEAST_S, weight * (self._seconds * until - self.elapsed_s) / left)
        if self._iterations is not None:
            iterations = max(1, int(weight * self._iterations * (until - since) / of))
        return Grant(seconds, iterations)

    def tell(self, label: str) -> bool:
        """Tell of a moment; whether the work should end."""
        if self._progress is not None and not self.stopped:
            moment = Moment(self.elapsed_s, self.done, self.total, label)
            self.stopped = self._progress(moment) is True
        return self.stopped
