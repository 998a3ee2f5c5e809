"""How a scan writes a frequency inside a sentence."""

from __future__ import annotations

from sidon.units import format_frequency

__all__ = ["mhz_text"]


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
    >>> mhz_text(518_012_500)
    '518.0125'
    """
    return format_frequency(hz).removesuffix(" MHz")
