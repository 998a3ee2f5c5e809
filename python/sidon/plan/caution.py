"""The cautions a plan carries: what it cannot know, and what can hurt someone."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

__all__ = ["before_retuning", "cautions", "figures", "is_in_ear", "isolation_cautions"]

_ALWAYS = (
    "A plan is a proposal: confirm every frequency with a scan on site before the event and again "
    "at show time.",
    "Licences and local rules decide which frequencies, powers and places are allowed; nothing "
    "here is legal advice. Lists of TV channels go stale. Services that are not listed are not "
    "checked, not free.",
)
_IN_EAR = (
    "In-ear monitors play straight into the ear and can damage hearing: use a limiter in every "
    "chain, bring levels up slowly, and follow the listening limits that apply to you."
)
_COMPUTED = (
    "The isolation between some zones was computed from distances and walls, not measured: before "
    "frequencies are used again, listen in one zone with the other on the air."
)
_RETUNED = (
    "Confirm a frequency with a scan before it goes on the air; licences and local rules decide."
)
_RETUNED_EAR = (
    "Turn in-ear monitors down, or take them out, while they are retuned: a burst of noise goes "
    "straight into the ear."
)
_EAR = re.compile(r"\bin[\s-]?ears?\b|\biems?\b", re.IGNORECASE)


def is_in_ear(kind: str) -> bool:
    """Tell whether a kind label names in-ear monitoring.

    Parameters
    ----------
    kind : str
        The label of a profile.

    Returns
    -------
    bool
        True for labels such as "in-ear transmitter".
    """
    return _EAR.search(kind) is not None


def cautions(kinds: Iterable[str]) -> list[str]:
    """List the cautions for a plan.

    Parameters
    ----------
    kinds : iterable of str
        Names and labels of the profiles it uses.

    Returns
    -------
    list of str
        Sentences; the one on hearing when an in-ear profile occurs.
    """
    return [*_ALWAYS, *([_IN_EAR] if any(is_in_ear(kind) for kind in kinds) else [])]


def before_retuning(kinds: Iterable[str]) -> list[str]:
    """List the cautions for who is about to retune.

    Parameters
    ----------
    kinds : iterable of str
        Names and labels of the profiles that are retuned.

    Returns
    -------
    list of str
        Sentences; the one on hearing when an in-ear profile occurs.
    """
    return [_RETUNED, *([_RETUNED_EAR] if any(is_in_ear(kind) for kind in kinds) else [])]


def isolation_cautions(bases: Iterable[str]) -> list[str]:
    """List the cautions for how zones were found to be coupled.

    Parameters
    ----------
    bases : iterable of str
        The grounds of each pair.

    Returns
    -------
    list of str
        One sentence when some isolation was computed.
    """
    return [_COMPUTED] if any(basis.startswith("computed") for basis in bases) else []


def figures(profiles: Iterable[tuple[str, str, dt.date | None]]) -> list[str]:
    """Say where the figures of profiles come from.

    Parameters
    ----------
    profiles : iterable of (str, str, date or None)
        Name, source and date of each; those without a source are passed over.

    Returns
    -------
    list of str
        One sentence per source.
    """
    names: dict[tuple[str, dt.date | None], list[str]] = {}
    for name, source, as_of in profiles:
        if source:
            names.setdefault((source, as_of), []).append(name)
    return [
        f"Figures of {', '.join(dict.fromkeys(used))}: {source} "
        f"({as_of or 'without a date'}); the maker's figures replace them."
        for (source, as_of), used in names.items()
    ]
