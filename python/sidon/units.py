"""Frequencies in integer hertz: unit factors, exact reading and printing.

``350 * kHz`` is an ``int``. ``518.125 * MHz`` is a ``float``, but within a fraction of a millihertz
of the integer that is meant, and accepted wherever sidon takes frequencies or distances.
"""

from __future__ import annotations

from sidon import _engine

__all__ = ["GHz", "Hz", "MHz", "format_frequency", "kHz", "mhz_text", "parse_frequency"]

Hz: int = 1
"""One hertz."""

kHz: int = 1_000  # noqa: N816 - the unit is written so
"""One kilohertz in hertz."""

MHz: int = 1_000_000
"""One megahertz in hertz."""

GHz: int = 1_000_000_000
"""One gigahertz in hertz."""


def parse_frequency(text: str) -> int:
    """Read a frequency exactly, without floating point.

    Parameters
    ----------
    text : str
        Such as ``"518.125 MHz"``, ``"350 kHz"`` or ``"518_125_000 Hz"``; without a unit, MHz.

    Returns
    -------
    int
        Hertz.

    Raises
    ------
    UnreadableError
        The text is no frequency, is finer than 1 Hz, or does not fit 64 bits.

    Examples
    --------
    >>> import sidon
    >>> sidon.parse_frequency("518.125 MHz")
    518125000
    """
    return _engine.parse_frequency(text)


def format_frequency(hertz: int) -> str:
    """Print a frequency exactly: megahertz with three decimals, more only where needed.

    Parameters
    ----------
    hertz : int
        Frequency in hertz.

    Returns
    -------
    str
        What `parse_frequency` reads back to the same number.

    Examples
    --------
    >>> import sidon
    >>> sidon.format_frequency(518_125_000)
    '518.125 MHz'
    """
    return _engine.format_frequency(hertz)


def mhz_text(hz: int) -> str:
    """Write hertz as megahertz, exactly, with at least three decimals and no unit.

    Parameters
    ----------
    hz : int
        A frequency or distance in hertz.

    Returns
    -------
    str
        The same in MHz.

    Examples
    --------
    >>> from sidon.units import mhz_text
    >>> mhz_text(518_125_000), mhz_text(863_100_050)
    ('518.125', '863.10005')
    """
    return format_frequency(hz).removesuffix(" MHz")
