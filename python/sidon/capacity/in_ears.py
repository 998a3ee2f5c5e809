"""From mixes for in-ear monitors to the transmitters, and so the carriers, that they take."""

from __future__ import annotations

from sidon._options import raise_if, whole_number
from sidon.exceptions import Fault

__all__ = ["in_ear_transmitters"]


def in_ear_transmitters(*, stereo: int = 0, mono: int = 0, dual_mono: bool = True) -> int:
    """Count the transmitters that carry mixes for in-ear monitors; each takes one carrier.

    Parameters
    ----------
    stereo, mono : int, optional
        Mixes in stereo, and in mono.
    dual_mono : bool, optional
        Whether two mono mixes share one stereo transmitter, each in one ear's channel, and the
        packs choose; without it every mix takes a transmitter.

    Returns
    -------
    int
        Transmitters, and carriers.

    Raises
    ------
    InvalidProblemError
        A count is no whole number of zero or more.

    Notes
    -----
    ``stereo + ceil(mono / 2)``: arithmetic, common practice. Two mixes in one transmitter leak into
    each other a little, so that a click track should not share with a voice. However many packs
    listen, they take no carrier. In-ear monitors play straight into the ear and can damage hearing:
    a limiter in every chain, and levels up slowly.

    Examples
    --------
    >>> in_ear_transmitters(stereo=3, mono=7)
    7
    >>> in_ear_transmitters(stereo=3, mono=7, dual_mono=False)
    10
    """
    counts = {"stereo": whole_number(stereo), "mono": whole_number(mono)}
    given = {"stereo": stereo, "mono": mono}
    raise_if(
        [
            Fault(name, f"{given[name]!r} is no number of mixes", "give a whole number, 0 or more")
            for name, count in counts.items()
            if count is None or count < 0
        ]
    )
    return stereo + (-(-mono // 2) if dual_mono else mono)
