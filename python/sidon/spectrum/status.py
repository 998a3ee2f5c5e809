"""What may be used at a place: one status per TV channel and band, each with its reason."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from sidon.spectrum.reach import Reach
from sidon.spectrum.region import Band, Channel, Region, Reserved

__all__ = ["NEAR_KM", "Entry", "Status", "Terms", "allowed", "entries", "weak_indoors", "within"]

Status = Literal["usable", "adjacent", "blocked", "not allowed", "not checked"]
Span = tuple[int, int]

_Unseen = tuple[str, str]
"""An entry of the region that was not seen in its source: its name under confirmed, and words."""

_LONGEST = 1.3
"""By how much a computed contour exceeds the published one at most (see `Propagation`)."""

NEAR_KM = 300.0
"""A table without a station of a band nearer than this says nothing about the band at a place."""


@dataclass(frozen=True)
class Terms:
    """What the asker holds, knows and has measured.

    Parameters
    ----------
    licensed : bool
        Whether bands that need a licence may be used.
    confirmed : frozenset of str
        Names of entries of the region the asker has checked for themselves: a band, a service, the
        band of a raster, "protection", or "contours" (those that the table gives,
        even where the model contradicts them grossly).
    covers : frozenset of str
        Bands of rasters that the table of stations covers although no station of it is near.
    occupied : frozenset of str, optional
        Channels listed as occupied; None when no list was given.
    measured_dbm : mapping
        Indoors, the level of TV over the whole channel as measured, by channel; empty outdoors.
    as_of : date, optional
        Date of the list of stations and occupied channels.
    source : str
        Where that list comes from.
    """

    licensed: bool = False
    confirmed: frozenset[str] = frozenset()
    covers: frozenset[str] = frozenset()
    occupied: frozenset[str] | None = None
    measured_dbm: Mapping[str, float] = field(default_factory=dict)
    as_of: dt.date | None = None
    source: str = ""

    def trusts(self, name: str, *, checked: bool) -> bool:
        """Tell whether an entry of the region counts as checked."""
        return checked or name in self.confirmed


@dataclass(frozen=True)
class Entry:
    """A TV channel, or a band outside of them, and what may be done with it.

    Parameters
    ----------
    channel : str
        Name of the channel; empty for a band.
    band : str
        What it belongs to.
    low_hz, high_hz : int
        Its edges.
    status : str
        "usable", "adjacent" (usable with a guard at the edge), "blocked" (a TV station on the
        channel, or listed as occupied), "not allowed" (reserved, or needs a licence), or "not
        checked", which is never free.
    reason : str
        Why, in words.
    reach : Reach, optional
        The station that decides: the one whose contour is nearest or reaches furthest.
    beside : tuple of str
        Names of neighbouring channels a guard is kept from.
    as_of : date, optional
        Date of what the status rests on.
    source : str
        What it rests on.
    """

    channel: str
    band: str
    low_hz: int
    high_hz: int
    status: Status
    reason: str
    reach: Reach | None = None
    beside: tuple[str, ...] = ()
    as_of: dt.date | None = None
    source: str = ""


def allowed(band: Band, terms: Terms) -> bool:
    """Tell whether the rule of a band holds for the asker.

    Parameters
    ----------
    band : Band
        Of the region.
    terms : Terms
        What the asker holds.

    Returns
    -------
    bool
        Checked or confirmed, and without a licence or with one.
    """
    return terms.trusts(band.name, checked=band.checked) and (
        band.basis == "licence-exempt" or terms.licensed
    )


def entries(region: Region, found: Sequence[Reach] | None, terms: Terms) -> list[Entry]:
    """Give every channel and band of a region its status. O(channels times stations).

    Parameters
    ----------
    region : Region
        Its rules.
    found : sequence of Reach, optional
        The stations at the place; None when there is no table.
    terms : Terms
        What the asker holds, knows and has measured.

    Returns
    -------
    list of Entry
        By frequency.
    """
    channels = region.channels
    rows = [_channel(region, channel, found, terms) for channel in channels]
    covered = [(channel.low_hz, channel.high_hz) for channel in channels]
    for band in region.bands:
        for span in band.ranges:
            rows += [_band(region, band, piece, terms) for piece in within(span, without=covered)]
    for kept in region.reserved:
        pieces = within(kept.range, without=covered)
        rows += [_reserved(kept, piece) for piece in pieces]
    return sorted(rows, key=lambda row: (row.low_hz, row.high_hz, row.channel, row.band))


def within(span: Span, *, without: Sequence[Span]) -> list[Span]:
    """Take spans out of a span.

    Parameters
    ----------
    span : (int, int)
        What is there.
    without : sequence of (int, int)
        What is taken away.

    Returns
    -------
    list of (int, int)
        What is left, ascending.
    """
    left = [span]
    for low, high in without:
        left = [
            piece
            for a, b in left
            for piece in ((a, min(b, low)), (max(a, high), b))
            if piece[0] < piece[1]
        ]
    return sorted(left)


def _reserved(kept: Reserved, span: Span) -> Entry:
    return Entry(
        channel="",
        band="reserved",
        low_hz=span[0],
        high_hz=span[1],
        status="not allowed",
        reason=kept.reason,
        as_of=kept.as_of,
        source=kept.source,
    )


def _band(region: Region, band: Band, span: Span, terms: Terms) -> Entry:
    def row(status: Status, reason: str) -> Entry:
        return Entry(
            channel="",
            band=band.name,
            low_hz=span[0],
            high_hz=span[1],
            status=status,
            reason=reason,
            as_of=band.as_of,
            source=band.source,
        )

    for kept in region.reserved:
        if not within(span, without=[kept.range]):
            return row("not allowed", kept.reason)
    if not terms.trusts(band.name, checked=band.checked):
        remedy = f"once checked, list in confirmed: {band.name!r}"
        return row("not checked", f"the rule was not seen in its source: {band.rule}; {remedy}")
    if not allowed(band, terms):
        return row("not allowed", f"needs a licence: {band.rule}")
    return row("usable", f"{band.rule}; other users are not known: scan")


@dataclass(frozen=True)
class _Maker:
    """Makes the entry of one channel."""

    channel: Channel
    terms: Terms
    worst: Reach | None

    def __call__(
        self,
        status: Status,
        reason: str,
        *,
        reach: Reach | None = None,
        beside: tuple[str, ...] = (),
        rule: Band | Reserved | None = None,
    ) -> Entry:
        channel, terms = self.channel, self.terms
        return Entry(
            channel=channel.name,
            band=channel.band,
            low_hz=channel.low_hz,
            high_hz=channel.high_hz,
            status=status,
            reason=reason,
            reach=self.worst or reach,
            beside=beside,
            as_of=terms.as_of if rule is None else rule.as_of,
            source=terms.source if rule is None else rule.source,
        )


def _channel(
    region: Region, channel: Channel, found: Sequence[Reach] | None, terms: Terms
) -> Entry:
    on = [reach for reach in found or () if reach.channel.name == channel.name]
    worst = min(on, key=lambda reach: reach.margin_km, default=None)
    make = _Maker(channel, terms, worst)
    kept = _kept(region, channel, make)
    if kept is not None:
        return kept
    if terms.occupied is not None and channel.name in terms.occupied:
        return make("blocked", "listed as occupied")
    least = region.protection.co_channel_km if region.protection else 0.0
    near = worst if worst is not None and worst.margin_km < least else None
    weak, indoors = weak_indoors(region, channel.name, terms)
    if near is not None and not weak:
        beyond = "" if near.margin_km < 0 else f", nearer than {least:g} km"
        why = f"co-channel: {near.where}{beyond}{_perhaps(near, least)}"
        return make("blocked", f"{why}; {indoors}" if indoors else why)
    doubts, unseen = _doubts(region, channel, found, terms, near=near is not None)
    rule = _rule(region, channel, terms, make, unseen)
    if rule is not None:
        return rule
    if near is not None:
        return make("usable", f"{indoors}; {near.where}")
    if doubts or unseen:
        return make("not checked", "; ".join([*doubts, *_unseen(unseen)]))
    return _free(region, channel, found, terms, make)


def _perhaps(near: Reach, least_km: float) -> str:
    """Say when the regulator's own contour may be short enough, as the model's run long."""
    if near.station.contour_km is not None:
        return f"; {near.overruled}" if near.overruled else ""
    if near.distance_km < near.contour_km / _LONGEST + least_km:
        return ""
    return "; computed contours run long: look this one up, and give it as contour_km"


def _kept(region: Region, channel: Channel, make: _Maker) -> Entry | None:
    """Tell what a channel is reserved for, if anything."""
    span = (channel.low_hz, channel.high_hz)
    for kept in region.reserved:
        if _meet(span, kept.range) and not within(span, without=[kept.range]):
            return make("not allowed", kept.reason, rule=kept)
    return None


def weak_indoors(region: Region, channel: str, terms: Terms) -> tuple[bool, str]:
    """Tell whether TV measures weak enough indoors for a licensee, and why or why not.

    Parameters
    ----------
    region : Region
        Its protection says what is weak enough.
    channel : str
        Its name.
    terms : Terms
        What was measured, and whether there is a licence.

    Returns
    -------
    (bool, str)
        Whether the indoor rule applies; the reason, empty where nothing was measured.
    """
    measured = terms.measured_dbm.get(channel)
    if measured is None:
        return False, ""
    limit = region.protection.indoor_dbm if region.protection else None
    said = f"TV measured at {measured:g} dBm"
    if limit is None:
        return False, f"{said}, but the region has no indoor rule"
    if measured >= limit:
        return False, f"{said}, not below the {limit:g} dBm of the indoor rule"
    if not terms.licensed:
        return False, f"{said}, but the indoor rule needs a licence (licensed = true)"
    return True, f"indoors, {said}, below {limit:g} dBm"


def _rule(
    region: Region, channel: Channel, terms: Terms, make: _Maker, unseen: Sequence[_Unseen]
) -> Entry | None:
    """Tell which rule keeps a channel from being used, if any, and what else was not seen."""
    span = (channel.low_hz, channel.high_hz)
    rules = [band for band in region.bands if any(_meet(span, piece) for piece in band.ranges)]
    if any(allowed(band, terms) for band in rules):
        return None
    more = "".join(f"; {text}" for text in _unseen(unseen))
    needs = [band for band in rules if terms.trusts(band.name, checked=band.checked)]
    if needs:
        return make("not allowed", f"needs a licence: {needs[0].rule}{more}", rule=needs[0])
    if rules:
        why = f"the rule was not seen in its source: {rules[0].rule}"
        names = ", ".join(repr(name) for name in (rules[0].name, *(name for name, _ in unseen)))
        also = f"; nor {' nor '.join(words for _, words in unseen)}" if unseen else ""
        lacks = rules[0].basis == "licence" and not terms.licensed
        licence = "; it needs a licence besides" if lacks else ""
        remedy = f"; once checked, list in confirmed: {names}"
        return make("not checked", f"{why}{also}{licence}{remedy}", rule=rules[0])
    return make("not checked", "no rule of the region covers it")


def _free(
    region: Region,
    channel: Channel,
    found: Sequence[Reach] | None,
    terms: Terms,
    make: _Maker,
) -> Entry:
    """Tell whether TV on a channel beside it asks for a guard."""
    neighbours = {
        other.name
        for other in region.channels
        if other.high_hz == channel.low_hz or other.low_hz == channel.high_hz
    }
    within_km = region.protection.adjacent_km if region.protection else 0.0
    strong = [
        reach
        for reach in found or ()
        if reach.channel.name in neighbours and reach.margin_km < within_km
    ]
    listed = neighbours & (terms.occupied or frozenset())
    if strong or listed:
        nearest = min(strong, key=lambda reach: reach.margin_km, default=None)
        names = tuple(sorted({reach.channel.name for reach in strong} | listed, key=_order))
        where = f"; {nearest.where} on {nearest.channel.name}" if nearest else ""
        why = f"TV beside it on {' and '.join(names)}: keep a guard from that edge{where}"
        return make("adjacent", why, reach=nearest, beside=names)
    if found is None:
        return make("usable", "not listed as occupied")
    return make("usable", make.worst.where if make.worst else "no station of the table is on it")


def _doubts(
    region: Region,
    channel: Channel,
    found: Sequence[Reach] | None,
    terms: Terms,
    *,
    near: bool,
) -> tuple[list[str], list[_Unseen]]:
    """Say what keeps a channel from being called free, and which entries were not seen."""
    doubts: list[str] = []
    unseen: list[_Unseen] = []
    raster = next(r for r in region.rasters if channel.name in r.channels)
    if not terms.trusts(raster.band, checked=raster.checked):
        unseen.append((raster.band, f"the edges of {raster.band}"))
    if found is None:
        if terms.occupied is None:
            doubts.append("there is no list of TV stations")
        return doubts, unseen
    there = any(r.channel.band == raster.band and r.distance_km < NEAR_KM for r in found)
    if not (there or near or raster.band in terms.covers):
        doubts.append(
            f"the table has no {raster.band} station within {NEAR_KM:g} km: if it lists them all, "
            f"write covers = [{raster.band!r}] beside its file"
        )
    services = {reach.service.name: reach.service for reach in found}
    for name, service in services.items():
        if not terms.trusts(name, checked=service.checked):
            unseen.append((name, f"the contour of the service {name!r}"))
    protection = region.protection
    if protection is not None and not terms.trusts("protection", checked=protection.checked):
        unseen.append(("protection", "the distance from contours"))
    return doubts, unseen


def _unseen(entries: Sequence[_Unseen]) -> list[str]:
    """Say which entries of the region were not seen in their source, and what to do."""
    if not entries:
        return []
    words = ", ".join(words for _, words in entries)
    names = ", ".join(repr(name) for name, _ in entries)
    return [f"not seen in its source: {words}; once checked, list in confirmed: {names}"]


def _meet(a: Span, b: Span) -> bool:
    return a[0] < b[1] and b[0] < a[1]


def _order(name: str) -> tuple[int, str]:
    digits = name.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    return int(digits), name
