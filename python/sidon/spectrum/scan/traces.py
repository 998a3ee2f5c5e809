"""Reductions of several sweeps to one trace: maximum, power mean, quantiles, lowest share."""

from __future__ import annotations

import math

import numpy as np

from sidon.spectrum.scan.table import Numbers

__all__ = ["counts", "decibels", "lowest", "maximum", "mean", "milliwatts", "quantile"]

_LN = math.log(10) / 10


def milliwatts(dbm: Numbers) -> Numbers:
    """Turn dBm into milliwatts."""
    return np.asarray(np.exp(dbm * _LN))


def decibels(power: Numbers) -> Numbers:
    """Turn milliwatts into dBm; no power is minus infinity."""
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(power))


def counts(levels: Numbers) -> Numbers:
    """Count the readings of every frequency."""
    return np.asarray((~np.isnan(levels)).sum(axis=0))


def _only(levels: Numbers) -> Numbers:
    row: Numbers = levels[0]
    return row


def maximum(levels: Numbers) -> Numbers:
    """Max hold: the highest level at each frequency."""
    if len(levels) == 1:
        return _only(levels)
    return np.asarray(np.fmax.reduce(levels, axis=0))


def mean(levels: Numbers) -> Numbers:
    """Mean power at each frequency, in dBm: powers are averaged, never decibels."""
    if len(levels) == 1:
        return _only(levels)
    power = milliwatts(levels)
    sound = ~np.isnan(power)
    total = np.where(sound, power, 0).sum(axis=0)
    return decibels(total / sound.sum(axis=0))


def quantile(levels: Numbers, share: float) -> Numbers:
    """Quantile of the levels at each frequency, between ranks in decibels. O(n log sweeps)."""
    if len(levels) == 1:
        return _only(levels)
    ordered = np.sort(levels, axis=0)  # NaN last
    rank = share * (counts(levels) - 1)
    below = np.floor(rank).astype(np.int64)
    above = np.ceil(rank).astype(np.int64)
    a = np.take_along_axis(ordered, below[None], axis=0)[0]
    b = np.take_along_axis(ordered, above[None], axis=0)[0]
    return np.asarray(a + (rank - below) * (b - a))


def lowest(levels: Numbers, share: float) -> Numbers:
    """Mean power, in dBm, of the lowest share of the levels at each frequency, at least one."""
    if len(levels) == 1:
        return _only(levels)
    power = np.sort(milliwatts(levels), axis=0)
    kept = np.maximum(1, np.round(share * counts(levels))).astype(np.int64)
    inside = np.arange(len(power))[:, None] < kept
    return decibels(np.where(inside, power, 0).sum(axis=0) / kept)
