"""How plans and studies print a frequency inside a sentence or a table."""

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
    >>> mhz_text(518_125_000), mhz_text(863_100_050)
    ('518.125', '863.10005')
    """
    return format_frequency(hz).removesuffix(" MHz")
