"""What is left of the spectrum: ranges minus occupied channels and exclusions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sidon.study.schema import Availability, Profile
from sidon.units import mhz_text

__all__ = ["Block", "Tuning", "blocks", "free_ranges", "tuning", "why_not", "why_nothing"]

Span = tuple[int, int]


@dataclass(frozen=True)
class Block:
    """A piece of spectrum taken away, and by what.

    Parameters
    ----------
    low_hz, high_hz : int
        Its edges; occupied channels include the edge guard.
    label : str
        What takes it, in words.
    """

    low_hz: int
    high_hz: int
    label: str


@dataclass(frozen=True)
class Tuning:
    """Where the carriers of a profile may stand.

    Parameters
    ----------
    ranges_hz : tuple of (int, int)
        Closed ranges of carrier centres, ascending and disjoint.
    step_hz : int
        Raster step.
    origin_hz : int
        A frequency on the raster.
    """

    ranges_hz: tuple[Span, ...]
    step_hz: int
    origin_hz: int

    @property
    def size(self) -> int:
        """Number of candidate frequencies."""
        return sum(self._count(low, high) for low, high in self.ranges_hz)

    def _count(self, low: int, high: int) -> int:
        first = low + (self.origin_hz - low) % self.step_hz
        return max(0, (high - first) // self.step_hz + 1)

    def candidates_hz(self) -> list[int]:
        """Return all candidate frequencies, ascending. O(size)."""
        return [
            hz
            for low, high in self.ranges_hz
            for hz in range(low + (self.origin_hz - low) % self.step_hz, high + 1, self.step_hz)
        ]

    def __contains__(self, hz: int) -> bool:
        on_raster = (hz - self.origin_hz) % self.step_hz == 0
        return on_raster and any(low <= hz <= high for low, high in self.ranges_hz)


def blocks(availability: Availability) -> list[Block]:
    """List what is taken away inside the ranges.

    Parameters
    ----------
    availability : Availability
        As written.

    Returns
    -------
    list of Block
        Occupied channels with their guard, then exclusions.
    """
    guard = availability.edge_guard
    taken = []
    for number in sorted(set(availability.occupied)):
        if availability.tv_raster is None:
            break
        low, high = availability.tv_raster.channel(number)
        taken.append(Block(low - guard, high + guard, f"occupied channel {number}"))
    for exclusion in availability.exclusions:
        low, high = exclusion.range
        taken.append(Block(low, high, f"exclusion {exclusion.reason!r}"))
    return taken


def free_ranges(availability: Availability) -> list[Span]:
    """Subtract what is taken from the ranges. O(n log n) in ranges and blocks.

    Parameters
    ----------
    availability : Availability
        As written.

    Returns
    -------
    list of (int, int)
        Free ranges in hertz, ascending and disjoint.

    Notes
    -----
    Edges touch: a carrier may use the spectrum up to the edge of a block, so a free range keeps its
    edges, and two ranges that meet are one.
    """
    free = _merged(availability.ranges)
    for block in blocks(availability):
        free = [piece for span in free for piece in _without(span, block)]
    return free


def _merged(spans: Iterable[Span]) -> list[Span]:
    merged: list[Span] = []
    for low, high in sorted(spans):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged


def _without(span: Span, block: Block) -> list[Span]:
    low, high = span
    if block.high_hz <= low or block.low_hz >= high:
        return [span]
    pieces = [(low, block.low_hz), (block.high_hz, high)]
    return [(a, b) for a, b in pieces if a < b]


def tuning(profile: Profile, free: Sequence[Span]) -> Tuning:
    """Find where the carriers of a profile may stand.

    Parameters
    ----------
    profile : Profile
        As written.
    free : sequence of (int, int)
        Free ranges in hertz.

    Returns
    -------
    Tuning
        The tuning ranges, less what would put carrier plus or minus half the bandwidth outside.
    """
    half = -(-profile.bandwidth // 2)
    inner = [(low + half, high - half) for low, high in free if low + half <= high - half]
    ranges = []
    for tune_low, tune_high in _merged(profile.ranges):
        for low, high in inner:
            if max(low, tune_low) <= min(high, tune_high):
                ranges.append((max(low, tune_low), min(high, tune_high)))
    return Tuning(tuple(sorted(ranges)), profile.raster, profile.origin_hz)


def why_nothing(profile: Profile, availability: Availability) -> str:
    """Say in words what leaves a profile without any candidate.

    Parameters
    ----------
    profile : Profile
        A profile without candidates.
    availability : Availability
        As written.

    Returns
    -------
    str
        The blocks in its tuning ranges, or what else is the matter.
    """
    allowed = _merged(availability.ranges)
    if not any(low < b and a < high for low, high in profile.ranges for a, b in allowed):
        spans = ", ".join(_span(span) for span in allowed)
        return f"its tuning ranges lie outside the available {spans}"
    eaters = [b for b in blocks(availability) if any(_meets(b, span) for span in profile.ranges)]
    if not eaters:
        width = mhz_text(profile.bandwidth)
        return f"no raster point leaves room for its bandwidth of {width} MHz"
    names = ", ".join(f"{b.label} ({_span((b.low_hz, b.high_hz))})" for b in eaters[:12])
    more = f" and {len(eaters) - 12} more" if len(eaters) > 12 else ""
    return f"taken by {names}{more}; what is left, if anything, is too narrow"


def why_not(hz: int, profile: Profile, availability: Availability) -> str:
    """Say in words why a frequency is no candidate of a profile.

    Parameters
    ----------
    hz : int
        A frequency that is not a candidate.
    profile : Profile
        The profile.
    availability : Availability
        As written.

    Returns
    -------
    str
        The first reason that applies.
    """
    if not any(low <= hz <= high for low, high in profile.ranges):
        spans = ", ".join(_span(span) for span in profile.ranges)
        return f"it is outside the tuning range {spans} of {profile.name!r}"
    offset = (hz - profile.origin_hz) % profile.raster
    if offset:
        below, above = mhz_text(hz - offset), mhz_text(hz - offset + profile.raster)
        points = f"points here are {below} and {above} MHz"
        return f"it is off the raster of {profile.name!r}, whose {points}"
    half = -(-profile.bandwidth // 2)
    carrier = (hz - half, hz + half)
    for block in blocks(availability):
        if _meets(block, carrier):
            return f"it reaches into {block.label} ({_span((block.low_hz, block.high_hz))})"
    return "it reaches outside the available ranges"


def _meets(block: Block, span: Span) -> bool:
    return block.low_hz < span[1] and span[0] < block.high_hz


def _span(span: Span) -> str:
    return f"{mhz_text(span[0])}-{mhz_text(span[1])} MHz"
