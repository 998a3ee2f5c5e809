"""How many carriers of one kind fit among given candidates, and which."""

from __future__ import annotations

import html
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidon import _engine
from sidon._arrays import NO_VALUES, FaultList, distance, frequency_column, guard_list
from sidon._columns import Columns, frozen
from sidon._options import check_options

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sidon._arrays import Distance, Frequencies, Guards
    from sidon.solve import Progress

__all__ = ["SetResult", "largest_set"]

DEFAULT_SECONDS = 5.0
"""The time budget when none is given."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class SetResult:
    """What `largest_set` answers. Immutable; pickles.

    Attributes
    ----------
    frequencies : numpy.ndarray
        int64, the set in hertz, ascending; recounted by the independent check.
    upper_bound : int
        No set is larger.
    proof : str
        Why not: ``"candidates"`` (there are no more), ``"separation"``,
        ``"difference-counting"`` (Erdos and Turan 1941, Lindstrom 1969) or ``"exhaustion"``
        (branch and bound).
    status : str
        ``"optimal"`` when the set meets the bound, else ``"feasible"``.
    stop_reason : str
        ``"proven"``, ``"iteration-limit"``, ``"time-limit"`` or ``"interrupted"``.
    seed, restarts, iterations : int
        The seed given; restarts begun and iterations over all restarts.
    elapsed_s : float
        Wall-clock seconds.
    trace : Columns
        Improvements of set or bound, a dict of numpy arrays: ``time_s``, ``restart``,
        ``iteration``, ``size``, ``upper_bound``.
    """

    frequencies: NDArray[np.int64]
    upper_bound: int
    proof: str
    status: str
    stop_reason: str
    seed: int
    restarts: int
    iterations: int
    elapsed_s: float
    trace: Columns

    @property
    def size(self) -> int:
        """Carriers in the set."""
        return len(self.frequencies)

    def _summary(self) -> dict[str, str]:
        return {
            "size": f"{self.size}, at most {self.upper_bound} ({self.proof})",
            "status": f"{self.status} ({self.stop_reason})",
            "run": f"seed {self.seed}, {self.restarts} restarts, {self.iterations} iterations, "
            f"{self.elapsed_s:.2f} s",
        }

    def __repr__(self) -> str:
        lines = "".join(f"\n  {name}: {text}" for name, text in self._summary().items())
        return f"SetResult{lines}"

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th>{name}</th><td>{html.escape(text)}</td></tr>"
            for name, text in self._summary().items()
        )
        return f"<table><caption>Largest set</caption>{rows}</table>"


def largest_set(
    candidates_hz: Frequencies,
    *,
    separation: Distance,
    guards: Guards,
    seed: int = 0,
    iterations: int | None = None,
    seconds: float | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> SetResult:
    """Find as many candidates as possible that are compatible with each other.

    Parameters
    ----------
    candidates_hz : list, tuple, numpy array, Series
        Frequencies to choose from, in hertz.
    separation : int or str
        Least distance between two carriers, in hertz or as text such as ``"350 kHz"``.
    guards : mapping of str or tuple to int or str
        Guard by product form, its text or its coefficients: ``"2A-B"`` or ``(2, -1)``; 0 waives a
        form.
    seed : int, optional
        Seed of every random stream.
    iterations : int, optional
        Budget in iterations over all restarts; the same set on any number of threads. A first look
        counts up to 300, however few are asked for.
    seconds : float, optional
        Budget in wall-clock seconds, which gives up repeatability. With neither budget the run
        takes at most five seconds.
    threads : int, optional
        Worker threads; one per core without.
    progress : callable, optional
        As for `sidon.solve`; the event's ``refused`` is how many carriers the best set is short
        of the upper bound. Returning True asks for the best so far, and so does Ctrl-C.

    Returns
    -------
    SetResult
        The set, with an upper bound and how it was proved.

    Raises
    ------
    InvalidProblemError
        An argument is out of range; every one is listed.
    TooLargeError
        The candidates' common raster is too fine to hold.

    Notes
    -----
    Guards on ``2A-B`` and ``A+B-C`` are served by algebraic sets (Singer 1938; Bose 1942; Ruzsa
    1993) fitted to the candidates, large neighbourhood search, and branch and bound where the band
    is narrow; other forms by local search.

    Examples
    --------
    A ruler of ten marks and length 55 (OEIS A003022), and the proof that eleven do not fit:

    >>> import sidon
    >>> r = sidon.largest_set(range(56), separation=1, guards={"2A-B": 1, "A+B-C": 1})
    >>> r.size, r.upper_bound, r.status
    (10, 10, 'optimal')
    """
    faults = FaultList()
    candidates = faults.take(NO_VALUES, frequency_column, candidates_hz, "candidates_hz")
    least = faults.take(0, distance, separation, "separation")
    widths = faults.take([], guard_list, guards)
    faults.raise_if_any()
    check_options("max-service", "local-search", seed, iterations, seconds, threads, progress)
    if iterations is None and seconds is None:
        seconds = DEFAULT_SECONDS
    outcome = _engine.largest_set(
        candidates,
        least,
        widths,
        seed=seed,
        iterations=iterations,
        seconds=seconds,
        threads=threads,
        progress=progress,
    )
    return SetResult(
        frequencies=frozen(outcome.frequencies),
        upper_bound=outcome.upper_bound,
        proof=outcome.proof,
        status=outcome.status,
        stop_reason=outcome.stop_reason,
        seed=outcome.seed,
        restarts=outcome.restarts,
        iterations=outcome.iterations,
        elapsed_s=outcome.elapsed_s,
        trace=Columns(
            time_s=frozen(outcome.trace_time_s),
            restart=frozen(outcome.trace_restart),
            iteration=frozen(outcome.trace_iteration),
            size=frozen(outcome.trace_size),
            upper_bound=frozen(outcome.trace_upper_bound),
        ),
    )
