"""Why a link was refused, in words."""

from __future__ import annotations

from typing import Protocol

__all__ = ["Blocked", "reason"]


class Blocked(Protocol):
    """The candidate frequencies of a link, each counted by the first rule that blocks it."""

    @property
    def candidates(self) -> int:
        """Candidate frequencies in all."""

    @property
    def by_separation(self) -> int:
        """Nearer than the separation to another carrier."""

    @property
    def as_victim(self) -> int:
        """Where a product of others would hit the link."""

    @property
    def as_source(self) -> int:
        """Where the link would create a product that hits another."""

    @property
    def clean(self) -> int:
        """Blocked by none of them."""


def reason(blocked: Blocked) -> str:
    """Put the counts of a refused link into words.

    Parameters
    ----------
    blocked : Blocked
        What `sidon.why_refused` counted.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    parts = [
        f"{count:,} {words}"
        for count, words in (
            (blocked.by_separation, "too close to other carriers"),
            (blocked.as_victim, "would be hit by products"),
            (blocked.as_source, "would create products on others"),
        )
        if count
    ]
    if not blocked.clean:
        return f"none of {blocked.candidates:,} candidate frequencies is clear: {', '.join(parts)}"
    taken = f" ({', '.join(parts)})" if parts else ""
    return (
        f"the search ended before it placed this link; {blocked.clean:,} of "
        f"{blocked.candidates:,} candidate frequencies are clear{taken}"
    )
