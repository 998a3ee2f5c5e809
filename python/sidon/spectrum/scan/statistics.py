"""Statistics of noise readings: how far a quantile, maximum or threshold is from the mean noise.

One reading of noise in one bin is exponentially distributed in power, the average of K independent
readings follows a gamma distribution of shape K, and max hold takes the largest of M. All values
are decibels relative to the mean noise power, computed from these distributions.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "GAUSSIAN_NOISE_FACTOR",
    "LOG_AVERAGE_DB",
    "lowest_mean_db",
    "mean_db",
    "median_of_db",
    "quantile_db",
    "threshold_db",
]

GAUSSIAN_NOISE_FACTOR = 1.0645
"""Noise bandwidth of a Gaussian resolution filter over its 3 dB width: sqrt(pi / (4 ln 2))."""

LOG_AVERAGE_DB = -10 * 0.577215664901532860607 / math.log(10)
"""How far an average of decibels lies below the mean noise power: 10 log10(exp(-gamma))."""

_LARGE = 2_000
"""From so many averages on the cube-root normal approximation is good to a thousandth of a dB."""
_STEPS = 200
_POINTS = 512


@lru_cache(maxsize=512)
def quantile_db(share: float, *, averages: int = 1, held: int = 1) -> float:
    """Quantile of noise levels.

    Parameters
    ----------
    share : float
        Between 0 and 1: the share of the readings below it.
    averages : int, default 1
        Independent readings averaged, in power, into each level.
    held : int, default 1
        Such levels of which each kept the largest.

    Returns
    -------
    float
        dB relative to the mean noise power.

    Examples
    --------
    >>> round(quantile_db(0.5), 2), round(quantile_db(0.2, averages=10), 2)
    (-1.59, -1.37)
    """
    single = share ** (1 / held)
    return _db(_upper(1 - single, averages))


@lru_cache(maxsize=512)
def threshold_db(false_alarm: float, *, averages: int = 1, held: int = 1) -> float:
    """Level that noise alone exceeds with a given probability.

    Parameters
    ----------
    false_alarm : float
        Probability per level, between 0 and 1.
    averages, held : int, default 1
        As for `quantile_db`.

    Returns
    -------
    float
        dB relative to the mean noise power.

    Examples
    --------
    >>> round(threshold_db(1e-6), 2)
    11.4
    """
    # 1 - (1 - P)^(1/M) without losing small probabilities.
    single = -math.expm1(math.log1p(-false_alarm) / held)
    return _db(_upper(single, averages))


@lru_cache(maxsize=512)
def lowest_mean_db(share: float, *, averages: int = 1, held: int = 1) -> float:
    """Mean power of the lowest levels.

    Parameters
    ----------
    share : float
        The share of the levels that is averaged, from the lowest up; above 0, at most 1.
    averages, held : int, default 1
        As for `quantile_db`.

    Returns
    -------
    float
        dB relative to the mean noise power.

    Examples
    --------
    >>> round(lowest_mean_db(0.2), 2), round(lowest_mean_db(0.2, averages=100), 2)
    (-9.69, -0.63)
    """
    if share >= 1:
        return mean_db(averages=averages, held=held)
    if held == 1 and averages < _LARGE:
        edge = _upper(1 - share, averages)
        return _db((1 - _poisson(averages + 1, averages * edge)) / share)
    places = (np.arange(_POINTS) + 0.5) / _POINTS * share
    levels = [_upper(1 - place ** (1 / held), averages) for place in places.tolist()]
    return _db(sum(levels) / _POINTS)


@lru_cache(maxsize=512)
def mean_db(*, averages: int = 1, held: int = 1) -> float:
    """Mean power of levels; that of max hold grows with the number held.

    Parameters
    ----------
    averages, held : int, default 1
        As for `quantile_db`. Without averaging it is the harmonic number of `held`.

    Returns
    -------
    float
        dB relative to the mean noise power.

    Examples
    --------
    >>> round(mean_db(held=10), 2), round(mean_db(held=1000), 2)
    (4.67, 8.74)
    """
    if held == 1:
        return 0.0
    if averages == 1:
        return _db(_harmonic(held))
    # The mean of a positive quantity is the area beside its distribution function.
    step = _upper(1e-9 / held, averages) / (4 * _POINTS)
    levels = [(i + 0.5) * step for i in range(4 * _POINTS)]
    return _db(step * sum(1 - (1 - _above(x, averages)) ** held for x in levels))


@lru_cache(maxsize=512)
def median_of_db(count: int, *, averages: int = 1) -> float:
    """Mean power of the median of a few levels.

    Parameters
    ----------
    count : int
        Levels of which the median is taken.
    averages : int, default 1
        As for `quantile_db`.

    Returns
    -------
    float
        dB relative to the mean noise power: exact for one average (expected order statistics of
        the exponential distribution), else the quantile at the middle.

    Examples
    --------
    >>> round(median_of_db(1), 2), round(median_of_db(3), 2), round(median_of_db(1001), 2)
    (0.0, -0.79, -1.59)
    """
    if count == 1:
        return 0.0
    if averages > 1:
        return quantile_db(0.5, averages=averages)
    lower = _order(count, (count + 1) // 2)
    upper = _order(count, count // 2 + 1)
    return _db((lower + upper) / 2)


def _order(count: int, rank: int) -> float:
    """Mean of the rank-th smallest of so many exponential values."""
    return _harmonic(count) - (_harmonic(count - rank) if count > rank else 0.0)


def _harmonic(n: int) -> float:
    if n > 100_000:
        return math.log(n) + 0.577215664901532860607 + 1 / (2 * n)
    return math.fsum(1 / k for k in range(1, n + 1))


def _db(ratio: float) -> float:
    return 10 * math.log10(ratio)


def _upper(tail: float, averages: int) -> float:
    """Level, in mean noise powers, that a gamma variable of mean 1 exceeds with this chance."""
    if averages == 1:
        return -math.log(tail) if tail < 0.5 else -math.log1p(tail - 1)
    if averages >= _LARGE:
        z = -NormalDist().inv_cdf(min(max(tail, 1e-300), 1 - 1e-16))
        ninth = 1 / (9 * averages)
        return float((1 - ninth + z * math.sqrt(ninth)) ** 3)
    low, high = 0.0, 2.0
    while _above(high, averages) > tail:
        high *= 2
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if _above(middle, averages) > tail:
            low = middle
        else:
            high = middle
        if high - low <= 1e-13 * high:
            break
    return (low + high) / 2


def _above(level: float, averages: int) -> float:
    """Probability that the average of so many readings exceeds a level in mean noise powers."""
    if averages >= _LARGE:
        ninth = 1 / (9 * averages)
        return 1 - NormalDist().cdf((float(np.cbrt(level)) - 1 + ninth) / math.sqrt(ninth))
    return _poisson(averages, averages * level)


def _poisson(terms: int, x: float) -> float:
    """Sum of exp(-x) x^j / j! for j below `terms`: the tail of a gamma variable of that shape."""
    if x <= 0:
        return 1.0
    logs = np.arange(terms) * math.log(x) - x - _log_factorials(terms)
    return min(1.0, float(np.exp(logs).sum()))


@lru_cache(maxsize=8)
def _log_factorials(terms: int) -> NDArray[np.float64]:
    found: NDArray[np.float64] = np.zeros(terms)
    found[1:] = np.cumsum(np.log(np.arange(1, terms)))
    return found
