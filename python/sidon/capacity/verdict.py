"""What a number of carriers that fit means for what is wanted, in words and with the reason."""

from __future__ import annotations

from sidon.capacity.case import Found
from sidon.capacity.need import Need

__all__ = ["COMFORTABLE", "ENOUGH", "NOTHING_ASKED", "TIGHT", "TOO_FEW", "UNKNOWN", "judge"]

COMFORTABLE = "comfortable"
ENOUGH = "enough"
TIGHT = "tight"
TOO_FEW = "too few"
UNKNOWN = "cannot be told: not checked spectrum"
NOTHING_ASKED = "nothing asked"

_PROOFS = {
    "candidates": "there are no more frequencies",
    "separation": "by separation",
    "difference-counting": "by counting differences",
    "exhaustion": "by exhaustion",
}


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
        The verdict and its reason. More than is wanted later is comfortable; more than is wanted
        now, spares included, is enough; what is asked fits but spares do not, or nothing is left
        over, is tight; else too few.
    """
    fit = f"{found.size} fit"
    if not need.asked:
        most = "" if found.size >= found.bound else f", at most {found.bound}"
        return NOTHING_ASKED, f"{fit}{most}; nothing is asked of it"
    wanted = f"{need.asked} asked" + (
        f" and {_number(need.spares, 'spare')}" if need.spares else ""
    )
    later = f"{need.later} in {years} years"
    if found.size < need.asked:
        return TOO_FEW, f"{wanted}, {fit}; {_bound(found, need.asked)}"
    if found.size < need.now:
        lost = need.now - found.size
        return TIGHT, f"{wanted}, {fit}: {_number(lost, 'spare')} too many"
    if found.size == need.now:
        return TIGHT, f"{wanted}, and exactly {fit}: nothing is left"
    if found.size <= need.later and need.later > need.now:
        left = need.later - found.size
        short = f"{left} short of the {later}" if left else f"exactly the {later}"
        return ENOUGH, f"{wanted}, {fit}; {short}"
    return COMFORTABLE, f"{wanted}, {fit}; {found.size - need.later} more than the {later}"


def _bound(found: Found, asked: int) -> str:
    how = _PROOFS.get(found.proof, found.proof)
    if found.bound < asked:
        return f"no more than {found.bound} can ({how})"
    return f"up to {found.bound} are not ruled out ({how}): more time may find them"


def _number(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"
