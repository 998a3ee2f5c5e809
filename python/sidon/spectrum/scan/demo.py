"""An invented scan, made by lot: TV channels, a few carriers, noise. Nothing in it was measured."""

from __future__ import annotations

import math

import numpy as np

from sidon._arrays import Distance, distance
from sidon.spectrum.scan.cells import Span
from sidon.spectrum.scan.scan import Scan

__all__ = ["demo_scan", "demo_text", "tv_channels"]

_CHANNELS = {15: -62.0, 16: -71.0, 19: -55.0, 22: -80.0, 23: -66.0, 26: -75.0, 27: -58.0, 34: -69.0}
"""Invented TV channels of 6 MHz from 470 MHz on (number 14), and their power over the channel."""

_CARRIERS = {491_600_000: -68.0, 518_300_000: -74.0, 543_150_000: -61.0, 571_025_000: -90.0}
"""Invented carriers and their power."""

_FLOOR_DBM_HZ = -162.0
_STEP_HZ = 25_000
_BANDWIDTH_HZ = 30_000


def tv_channels(first_edge: Distance, width: Distance, first: int, last: int) -> dict[int, Span]:
    """List the edges of a raster of TV channels.

    Parameters
    ----------
    first_edge : int or str
        Lower edge of the first channel.
    width : int or str
        Width of a channel.
    first, last : int
        Numbers of the first and the last channel.

    Returns
    -------
    dict of int to (int, int)
        Edges in hertz by number.

    Examples
    --------
    >>> tv_channels("470 MHz", "6 MHz", 14, 36)[36]
    (602000000, 608000000)
    """
    low, step = distance(first_edge, "first_edge"), distance(width, "width")
    return {
        number: (low + (number - first) * step, low + (number - first + 1) * step)
        for number in range(first, last + 1)
    }


def demo_scan(*, seed: int = 1, sweeps: int = 20) -> Scan:
    """Make an invented scan of 470-608 MHz; see `demo_text`.

    Parameters
    ----------
    seed : int, default 1
        Seed of every random draw.
    sweeps : int, default 20
        How many sweeps.

    Returns
    -------
    Scan
        Named "invented".

    Examples
    --------
    >>> demo_scan()
    Scan('invented', 470.000-608.000 MHz, 5521 points, 20 sweeps)
    """
    text = demo_text(seed=seed, sweeps=sweeps)
    return Scan.from_text(text, name="invented", spot="invented hall", taken="2031-05-01")


def demo_text(*, seed: int = 1, sweeps: int = 20) -> str:
    """Make an invented scan of 470-608 MHz as text, one level column per sweep.

    Parameters
    ----------
    seed : int, default 1
        Seed of every random draw.
    sweeps : int, default 20
        How many sweeps.

    Returns
    -------
    str
        What `Scan.from_text` reads. It says of itself that it is invented.
    """
    random = np.random.default_rng(seed)
    where = np.arange(470_000_000, 608_000_001, _STEP_HZ)
    noise_bandwidth = 1.0645 * _BANDWIDTH_HZ
    power = np.full(len(where), 10 ** ((_FLOOR_DBM_HZ + 10 * math.log10(noise_bandwidth)) / 10))
    # A receiver's noise is not the same everywhere.
    power *= 10 ** (0.1 * np.sin(where / 20e6))
    for number, dbm in _CHANNELS.items():
        low = 470_000_000 + 6_000_000 * (number - 14)
        inside = (where > low + 309_440) & (where < low + 6_000_000 - 309_440)
        power[inside] += 10 ** (dbm / 10) * noise_bandwidth / 5_381_119
    levels = power * random.exponential(size=(sweeps, len(where)))
    for hz, dbm in _CARRIERS.items():
        # Frequency-modulated, so that each sweep meets it a little elsewhere.
        middles = hz + random.normal(scale=15_000, size=(sweeps, 1))
        shape = np.exp(-4 * math.log(2) * ((where - middles) / _BANDWIDTH_HZ) ** 2)
        levels += 10 ** (dbm / 10) * shape
    columns = 10 * np.log10(levels)
    lines = [
        "# Invented scan, made by lot: nothing in it was measured",
        f"# RBW {_BANDWIDTH_HZ // 1000} kHz",
        "Frequency (MHz)," + ",".join(f"Sweep {i + 1} (dBm)" for i in range(sweeps)),
    ]
    for hz, row in zip(where.tolist(), columns.T.tolist(), strict=True):
        lines.append(f"{hz / 1e6:.3f}," + ",".join(f"{level:.1f}" for level in row))
    return "\n".join(lines) + "\n"
