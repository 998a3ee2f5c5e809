"""Which intermodulation products fall on a finished set of carriers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sidon import _engine
from sidon._arrays import NO_VALUES, FaultList, frequency_column, guard_columns
from sidon._columns import Columns
from sidon._options import thread_faults

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidon._arrays import Frequencies, GuardColumns

__all__ = ["hit_counts", "hits"]


def hits(
    frequencies_hz: Frequencies,
    *,
    guards: GuardColumns,
    threads: int | None = None,
) -> Columns:
    """List every product that is too near a carrier.

    A hit is a product nearer to a victim than the guard: ``abs(product - victim) < guard``, with
    the sources and the victim all distinct carriers. ``A+B-C`` falling on ``C`` says that ``C``
    lies midway between ``A`` and ``B``; that is the ``2A-B`` relation and is listed once, as such.

    Parameters
    ----------
    frequencies_hz : list, tuple, numpy array, Series
        The carriers, in hertz, in any order.
    guards : mapping of str or tuple to int or array
        For each form (``"2A-B"``, ``"A+B-C"``, ``"3A-2B"``, ... up to ninth order, or its
        coefficients: ``(2, -1)``) the guard in hertz: one for all victims, or one for each. 0
        waives the form, 1 finds exact coincidences only.
    threads : int, optional
        Worker threads; one per core without.

    Returns
    -------
    Columns
        A dict of numpy arrays, ordered by form, victim, sources: ``form`` (text), ``sources``
        (tuples of indices into `frequencies_hz`, in the order of the form's coefficients),
        ``victim`` (index), ``product_hz``, ``offset_hz`` (product minus victim).

    Raises
    ------
    InvalidProblemError
        A frequency or guard is out of range; every one is listed.
    TooLargeError
        There are more than ten million hits, or finding them would take too long.

    See Also
    --------
    hit_counts : Count without listing.

    Notes
    -----
    Third order costs O(n^2 log n) for n carriers, plus the hits themselves.

    Examples
    --------
    Three equally spaced carriers: the outer two are each hit by a product of the others.

    >>> import sidon
    >>> sidon.hits([470_000_000, 470_400_000, 470_800_000], guards={"2A-B": 1})
    form  sources  victim  product_hz  offset_hz
    2A-B  1 2  0  470000000  0
    2A-B  1 0  2  470800000  0

    Any coefficients that sum to 1, up to ninth order, are a form; here one of the fifth.

    >>> sidon.hits([0, 1, 3, 7], guards={(2, 1, -2): 1})
    form  sources  victim  product_hz  offset_hz
    2A+B-2C  0 3 2  1  1  0
    2A+B-2C  2 1 0  3  7  0
    """
    carriers, widths = _arguments(frequencies_hz, guards, threads)
    form, victim, product, offset, sources = _engine.hits(carriers, widths, threads=threads)
    names = [name for name, _ in widths]
    return Columns(
        form=np.array(names, dtype=np.str_)[form] if names else np.empty(0, dtype=np.str_),
        sources=_tuples(sources, form, names),
        victim=victim,
        product_hz=product,
        offset_hz=offset,
    )


def hit_counts(
    frequencies_hz: Frequencies,
    *,
    guards: GuardColumns,
    threads: int | None = None,
) -> Columns:
    """Count the hits on each carrier without listing them.

    Parameters
    ----------
    frequencies_hz : list, tuple, numpy array, Series
        The carriers, in hertz, in any order.
    guards : mapping of str or tuple to int or array
        As for `hits`.
    threads : int, optional
        Worker threads; one per core without.

    Returns
    -------
    Columns
        A dict of numpy arrays, one row per carrier in the order given: ``frequency_hz``, and for
        each form, under its text, how many hits the carrier takes as the victim.

    Raises
    ------
    InvalidProblemError
        A frequency or guard is out of range; every one is listed.
    TooLargeError
        Counting would take too long or too much memory.

    See Also
    --------
    hits : The list, and what a hit is.

    Notes
    -----
    ``2A-B`` costs O(n^2) and ``A+B-C`` O(n^2 log n) at most, however many hits there are.

    Examples
    --------
    >>> import sidon
    >>> table = sidon.hit_counts([470_000_000, 470_400_000, 470_800_000], guards={"2A-B": 1})
    >>> table["2A-B"].tolist()
    [1, 0, 1]
    """
    carriers, widths = _arguments(frequencies_hz, guards, threads)
    counts = _engine.hit_counts(carriers, widths, threads=threads)
    names = [name for name, _ in widths]
    return Columns(frequency_hz=carriers, **dict(zip(names, counts, strict=True)))


def _arguments(
    frequencies_hz: Frequencies,
    guards: GuardColumns,
    threads: object,
) -> tuple[NDArray[np.int64], list[tuple[str, NDArray[np.int64]]]]:
    faults = FaultList()
    carriers = faults.take(NO_VALUES, frequency_column, frequencies_hz, "frequencies_hz")
    widths = faults.take([], guard_columns, guards, None if faults else len(carriers))
    faults.extend(thread_faults(threads))
    faults.raise_if_any()
    return carriers, widths


def _tuples(
    flat: NDArray[np.int64], form: NDArray[np.int64], names: list[str]
) -> NDArray[np.object_]:
    """Part the sources, form after form, into one tuple per hit."""
    tuples = np.empty(len(form), dtype=object)
    start = row = 0
    for index, name in enumerate(names):
        letters = sum(character.isalpha() for character in name)
        n = int(np.count_nonzero(form == index))
        block = flat[start : start + n * letters].reshape(n, letters)
        for i, sources in enumerate(block.tolist()):
            tuples[row + i] = tuple(sources)
        start += n * letters
        row += n
    return tuples
