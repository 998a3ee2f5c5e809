"""What a number of carriers that fit means for what is wanted, in words and with the reason."""

from __future__ import annotations

from collections.abc import Collection

from sidon.capacity.case import Found
from sidon.capacity.need import Need

__all__ = [
    "COMFORTABLE",
    "FITS",
    "NOTHING_ASKED",
    "NOT_FOUND",
    "OPEN_LATER",
    "SHORT_LATER",
    "TIGHT",
    "TOO_FEW",
    "UNKNOWN",
    "judge",
    "meanings",
    "state",
    "word",
]

COMFORTABLE = "comfortable"
SHORT_LATER = "enough now, too few later"
OPEN_LATER = "enough now, not found later"
TIGHT = "tight"
TOO_FEW = "too few"
NOT_FOUND = "not found"
UNKNOWN = "cannot be told: not checked spectrum"
NOTHING_ASKED = "nothing asked"

FITS = "fits"

_PROOFS = {
    "candidates": "there are no more frequencies",
    "separation": "by separation",
    "difference-counting": "by counting differences",
    "exhaustion": "by exhaustion",
}


def state(fits: int, wanted: int, bound: int) -> str:
    """Tell what is known of a number that is wanted.

    Parameters
    ----------
    fits, wanted, bound : int
        Carriers that fit, that are wanted, and no more than which can.

    Returns
    -------
    str
        `FITS`; `TOO_FEW` only where it is proved; else `NOT_FOUND`.
    """
    if fits >= wanted:
        return FITS
    return TOO_FEW if bound < wanted else NOT_FOUND


def word(asked: str, now: str, later: str, *, left: bool) -> str:
    """Put three states into one word.

    Parameters
    ----------
    asked, now, later : str
        The state of what is asked, of that with its spares, and of what is wanted after growth.
    left : bool
        Whether something is left beyond what is wanted now.

    Returns
    -------
    str
        The verdict, as `meanings` explains it.
    """
    if asked != FITS:
        return asked
    if now != FITS or not left:
        return TIGHT
    return {FITS: COMFORTABLE, TOO_FEW: SHORT_LATER, NOT_FOUND: OPEN_LATER}[later]


def meanings(verdicts: Collection[str], years: int) -> str:
    """Explain the verdicts that occur.

    Parameters
    ----------
    verdicts : collection of str
        Verdicts.
    years : int
        When later is.

    Returns
    -------
    str
        A sentence of a clause for each of them.
    """
    words = {
        COMFORTABLE: f"fits now and in {years} years, spares included",
        SHORT_LATER: f"fits now with spares, cannot in {years} years",
        OPEN_LATER: f"fits now with spares, in {years} years neither found nor ruled out",
        TIGHT: "what is asked fits, nothing beyond its spares was found to",
        TOO_FEW: "what is asked cannot fit (proved)",
        NOT_FOUND: "what is asked was neither found in the time nor ruled out",
        UNKNOWN: "too few in what is checked, and not all is",
    }
    told = [f"{name.split(':')[0]}: {text}" for name, text in words.items() if name in verdicts]
    return "; ".join(told)


def judge(found: Found, need: Need, years: int) -> tuple[str, str]:
    """Judge what fits against what is wanted.

    Parameters
    ----------
    found : Found
        What fits.
    need : Need
        What is wanted, now and later.
    years : int
        When later is.

    Returns
    -------
    (str, str)
        The verdict, as `meanings` explains it, and its reason.
    """
    fit = f"{found.size} fit"
    if not need.asked:
        most = "" if found.size >= found.bound else f", at most {found.bound}"
        return NOTHING_ASKED, f"{fit}{most}; nothing is asked of it"
    states = [state(found.size, n, found.bound) for n in (need.asked, need.now, need.later)]
    verdict = word(*states, left=found.size > need.now)
    wanted = f"{need.asked} asked" + (
        f" and {_number(need.spares, 'spare')}" if need.spares else ""
    )
    later = f"{need.later} in {years} years"
    if found.size < need.asked:
        return verdict, f"{wanted}, {fit}; {_bound(found, need.asked)}"
    if found.size < need.now:
        lost = need.now - found.size
        return verdict, f"{wanted}, {fit}: {_number(lost, 'spare')} too many"
    if found.size == need.now:
        return verdict, f"{wanted}, and exactly {fit}: nothing is left"
    if found.size < need.later:
        short = f"{need.later - found.size} short of the {later}, {_bound(found, need.later)}"
        return verdict, f"{wanted}, {fit}; {short}"
    left = found.size - need.later
    return verdict, f"{wanted}, {fit}; " + (
        f"{left} more than the {later}" if left else f"exactly the {later}"
    )


def _bound(found: Found, wanted: int) -> str:
    how = _PROOFS.get(found.proof, found.proof)
    if found.bound < wanted:
        return f"no more than {found.bound} can ({how})"
    return f"up to {found.bound} are not ruled out ({how}): more time may find them"


def _number(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"
