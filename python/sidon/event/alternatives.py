"""The best frequencies to move one link to, ranked with reasons; each is verified."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon._arrays import FaultList, frequency_column
from sidon._columns import Columns
from sidon._faults import nearest as nearest_name
from sidon._frames import Framed
from sidon._options import whole_number
from sidon.event.desk import Desk, Room
from sidon.event.near import Near, NearProducts
from sidon.event.promise import promised_spares
from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan import Scan
from sidon.units import mhz_text

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidon._arrays import Frequencies
    from sidon.plan.document import PlanDocument

__all__ = ["Alternative", "Alternatives", "find_alternatives"]

_MOST_STEPS = 8
"""Clearance is looked for up to so many raster steps; more room is of no more use."""
_STRIDES = (2, _MOST_STEPS)
_LEVEL_DB = 6.0
"""Levels within so many decibels count as equal."""
_MOST = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One frequency a link could be moved to.

    Attributes
    ----------
    frequency_hz : int
        Hertz.
    spare : str or None
        The spare that stands there and would be used up.
    clearance_hz : int
        By how much every separation and guard around the link could grow and still hold; at most
        what `limit_hz` says.
    limit_hz : int
        How far clearance was looked for.
    shift_hz : int
        From the present frequency.
    nearest_link : str or None
        The carrier nearest in frequency among those that share air and time.
    nearest_hz : int or None
        How far away it is.
    products : tuple of Near
        For each form the product that comes nearest to a hit, the narrowest first; none where it
        misses by more than `limit_hz`.
    level_dbm : float or None
        The highest level scanned within the link's bandwidth, where a scan was given and covers it.
    """

    frequency_hz: int
    spare: str | None
    clearance_hz: int
    limit_hz: int
    shift_hz: int
    nearest_link: str | None
    nearest_hz: int | None
    products: tuple[Near, ...]
    level_dbm: float | None = None

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it is a good one, and what is nearest to going wrong, in words."""
        told = [f"spare {self.spare}, promised"] if self.spare else []
        if self.level_dbm is not None:
            told.append(f"scan at most {self.level_dbm:.0f} dBm")
        least = "at least " if self.clearance_hz >= self.limit_hz else ""
        told.append(
            f"clear by {least}{mhz_text(self.clearance_hz)} MHz"
            if self.clearance_hz
            else "clear, with nothing to spare"
        )
        if self.nearest_link is not None and self.nearest_hz is not None:
            told.append(f"next carrier {self.nearest_link} at {mhz_text(self.nearest_hz)} MHz")
        told += [
            f"{near} misses by {mhz_text(near.excess_hz)} MHz more than its guard"
            if near.excess_hz
            else f"{near} exactly at its guard"
            for near in self.products[:1]
        ]
        return tuple(told)

    def __str__(self) -> str:
        sign = "+" if self.shift_hz >= 0 else "-"
        shift = f"{sign}{mhz_text(abs(self.shift_hz))}"
        return f"{mhz_text(self.frequency_hz)} MHz ({shift}): {', '.join(self.reasons)}"


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Alternatives(Framed, Sequence[Alternative]):
    """Where a link could be moved to, the best first. Immutable; pickles.

    Attributes
    ----------
    link : str
        The link.
    present_hz : int
        Where it stands.
    found : tuple of Alternative
        The best ones; verified against every other carrier by the independent check.
    candidates, clear : int
        How many frequencies its profile may use, and how many of them would be clear.
    locked : bool
        Whether it is locked, so that a repair would not move it.
    """

    link: str
    present_hz: int
    found: tuple[Alternative, ...]
    candidates: int
    clear: int
    locked: bool = False

    def __len__(self) -> int:
        return len(self.found)

    def __getitem__(self, index: Any) -> Any:  # noqa: ANN401 - one or a slice
        return self.found[index]

    def columns(self) -> Columns:
        """Return the alternatives as columns, the best first.

        Returns
        -------
        Columns
            ``frequency_hz``, ``shift_hz``, ``clearance_hz``, ``spare`` (empty for none),
            ``nearest_link``, ``nearest_hz`` (-1 without any), ``product`` (the narrowest, in
            words), ``product_excess_hz`` (-1 without any), ``level_dbm`` (NaN where unknown).
        """
        rows = self.found

        def texts(values: list[str]) -> NDArray[Any]:
            return np.array(values, dtype=np.str_)

        def hertz(values: list[int]) -> NDArray[np.int64]:
            return np.array(values, dtype=np.int64)

        first = [row.products[0] if row.products else None for row in rows]
        return Columns(
            frequency_hz=hertz([row.frequency_hz for row in rows]),
            shift_hz=hertz([row.shift_hz for row in rows]),
            clearance_hz=hertz([row.clearance_hz for row in rows]),
            spare=texts([row.spare or "" for row in rows]),
            nearest_link=texts([row.nearest_link or "" for row in rows]),
            nearest_hz=hertz([-1 if row.nearest_hz is None else row.nearest_hz for row in rows]),
            product=texts([str(near) if near else "" for near in first]),
            product_excess_hz=hertz([near.excess_hz if near else -1 for near in first]),
            level_dbm=np.array(
                [np.nan if row.level_dbm is None else row.level_dbm for row in rows],
                dtype=np.float64,
            ),
        )

    def summary(self) -> str:
        """Tell the alternatives in plain text, a line each.

        Returns
        -------
        str
            With a heading.
        """
        head = (
            f"{self.link} stands on {mhz_text(self.present_hz)} MHz; {self.clear:,} of "
            f"{self.candidates:,} frequencies are clear"
        )
        if self.locked:
            head += f"\n{self.link} is locked: no repair moves it before it is unlocked"
        return "\n".join([head, *(f"  {row}" for row in self.found)])

    def __repr__(self) -> str:
        return f"Alternatives({self.link!r}: {len(self.found)} of {self.clear} clear)"

    def _repr_html_(self) -> str:
        return self.columns()._repr_html_()


def find_alternatives(
    document: PlanDocument,
    link: object,
    k: object,
    levels: Scan | tuple[Frequencies, Frequencies] | None,
) -> Alternatives:
    """Find the best frequencies for one link; see `Plan.alternatives`.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    link : str
        One of its links.
    k : int
        How many at most.
    levels : Scan or tuple of array, optional
        A scan, or hertz ascending, and dBm.

    Returns
    -------
    Alternatives
        The best first.

    Raises
    ------
    InvalidProblemError
        When an argument is out of range; every fault is listed.
    """
    desk = Desk.of(document)
    own, most, scan = _arguments(desk, link, k, levels)
    room = Room(desk, own)
    carrier = desk.carriers[own]
    present = carrier.frequency_hz
    hertz = room.candidates[room.candidates != present]
    clear = hertz[room.clear(hertz)]
    record = desk.profiles[carrier.profile]
    ranker = _Ranker(room, scan, limit_hz=_MOST_STEPS * record.raster_hz)
    spares = promised_spares(document, carrier)
    at = [desk.index[name] for name in spares]
    usable = [i for i, good in zip(at, room.clear_without(at), strict=True) if good]
    found = [ranker.alternative(desk.carriers[i].frequency_hz, spare=i) for i in usable]
    found = sorted(found, key=ranker.key)[:most]
    for row in found:
        _verify(room, [row.frequency_hz], off=desk.index[row.spare or ""])
    if len(found) < most:
        places = ranker.best(clear, most - len(found))
        _verify(room, places)
        found += sorted((ranker.alternative(hz) for hz in places), key=ranker.key)
    return Alternatives(
        link=carrier.name,
        present_hz=present,
        found=tuple(found),
        candidates=len(room.candidates),
        clear=len(clear) + len(usable),
        locked=any(row.locked and row.link == carrier.name for row in document.assignments),
    )


def _verify(room: Room, frequencies_hz: list[int], *, off: int | None = None) -> None:
    for hz, good in zip(frequencies_hz, room.stands(frequencies_hz, off=off), strict=True):
        if not good:
            what = f"{mhz_text(hz)} MHz was taken for clear and is not; please report it"
            raise AssertionError(what)


_Levels = tuple["NDArray[np.int64]", "NDArray[np.float64]"]


def _arguments(
    desk: Desk, link: object, k: object, levels: Scan | tuple[Frequencies, Frequencies] | None
) -> tuple[int, int, _Levels | None]:
    faults = FaultList()
    links = {row.link for row in desk.document.assignments}
    if not isinstance(link, str) or link not in links:
        known = [row.link for row in desk.document.assignments]
        what, remedy = f"no link of the plan is named {link!r}", nearest_name(str(link), known)
        if link in {row.link for row in desk.document.refused}:
            what = f"{link!r} was refused and has no carrier"
            remedy = "repair the plan; with retry_refused others are retuned for it, too"
        elif link in desk.index:
            what, remedy = f"{link!r} is a foreign carrier", "it cannot be moved; name a link"
        faults.add("link", what, remedy)
    most = whole_number(k)
    if most is None or not 1 <= most <= _MOST:
        most = 1
        faults.add("k", f"{k!r} is out of range", f"give a whole number, 1 to {_MOST}")
    scan = None if levels is None else faults.take(None, _scan, levels)
    faults.raise_if_any()
    return desk.index[str(link)], most, scan


def _scan(levels: object) -> _Levels:
    remedy = "give two columns: hertz ascending, and the level in dBm of each"
    if isinstance(levels, Scan):
        highest = np.fmax.reduce(levels.levels_dbm, axis=0)
        known = ~np.isnan(highest)
        return levels.frequency_hz[known], highest[known]
    if not isinstance(levels, tuple | list) or len(levels) != 2:
        raise InvalidProblemError([Fault("levels", "it is no pair of columns", remedy)])
    hertz = frequency_column(levels[0], "levels[0]")
    try:
        dbm = np.asarray(levels[1], dtype=np.float64)
    except (TypeError, ValueError):
        raise InvalidProblemError([Fault("levels[1]", "they are no numbers", remedy)]) from None
    if dbm.shape != hertz.shape or (np.diff(hertz) <= 0).any() or not np.isfinite(dbm).all():
        what = f"{len(hertz)} frequencies and {dbm.size} levels do not go together"
        raise InvalidProblemError([Fault("levels", what, remedy)])
    return hertz, dbm


class _Ranker:
    """Orders clear frequencies: scan level, clearance, nearness to the present one."""

    def __init__(self, room: Room, scan: _Levels | None, *, limit_hz: int) -> None:
        self._room = room
        self._scan = scan
        self._limit_hz = limit_hz
        desk = room.desk
        self._own = desk.carriers[room.link]
        self._record = desk.profiles[self._own.profile]
        self._near = NearProducts(desk, room.link, room.mixing)

    def key(self, found: Alternative) -> tuple[float, int, int, int]:
        """Sort key, the best least."""
        bucket = np.inf if found.level_dbm is None else found.level_dbm // _LEVEL_DB
        steps = found.clearance_hz // self._record.raster_hz
        return bucket, -steps, abs(found.shift_hz), found.frequency_hz

    def best(self, clear: NDArray[np.int64], most: int) -> list[int]:
        """Choose the best of the clear frequencies, in no order.

        They are thinned by widening all rules step by step until no more are left than wanted.
        """
        chosen: list[int] = []
        for pool in self._pools(clear):
            chosen += self._clearest(pool, most - len(chosen))
            if len(chosen) >= most:
                break
        return chosen

    def _pools(self, clear: NDArray[np.int64]) -> list[NDArray[np.int64]]:
        """Part the frequencies by scan level, the quietest first."""
        if self._scan is None:
            return [clear]
        levels = [self._level(int(hz)) for hz in clear]
        buckets = np.array([np.inf if x is None else x // _LEVEL_DB for x in levels])
        return [clear[buckets == bucket] for bucket in np.unique(buckets)]

    def _clearest(self, pool: NDArray[np.int64], most: int) -> list[int]:
        step = self._record.raster_hz

        def wider(left: NDArray[np.int64], steps: int) -> NDArray[np.int64]:
            return left[self._room.clear(left, widen_hz=steps * step)]

        good, low = pool, 0
        few, high = pool[:0], _MOST_STEPS + 1
        for steps in _STRIDES:
            if len(good) <= most:
                break
            left = wider(good, steps)
            if len(left) < most:
                few, high = left, steps
                break
            good, low = left, steps
        # Now at least as many as wanted are clear by `low`, and fewer by `high`.
        while len(good) > most and high <= _MOST_STEPS and high - low > 1:
            middle = (low + high) // 2
            left = wider(good, middle)
            if len(left) < most:
                few, high = left, middle
            else:
                good, low = left, middle
        chosen: list[int] = few.tolist()
        present = self._own.frequency_hz
        rest = sorted(set(good.tolist()) - set(chosen), key=lambda hz: (abs(hz - present), hz))
        return chosen + rest[: max(0, most - len(chosen))]

    def alternative(self, hz: int, *, spare: int | None = None) -> Alternative:
        """Look closely at one frequency."""
        desk, room = self._room.desk, self._room
        others = [i for i in room.others if i != spare]
        name = None if spare is None else desk.carriers[spare].name
        products = self._near.nearest(hz, self._limit_hz, off=name)
        margins = [near.excess_hz for near in products]
        nearest: tuple[int, str] | None = None
        for i in others:
            other = desk.carriers[i]
            away = abs(hz - other.frequency_hz)
            least = max(self._record.separation_hz, desk.profiles[other.profile].separation_hz)
            if least:
                margins.append(away - least)
            if nearest is None or (away, other.name) < nearest:
                nearest = away, other.name
        return Alternative(
            frequency_hz=hz,
            spare=name,
            clearance_hz=min(self._limit_hz, *margins) if margins else self._limit_hz,
            limit_hz=self._limit_hz,
            shift_hz=hz - self._own.frequency_hz,
            nearest_link=nearest[1] if nearest else None,
            nearest_hz=nearest[0] if nearest else None,
            products=tuple(products),
            level_dbm=self._level(hz),
        )

    def _level(self, hz: int) -> float | None:
        """Return the highest level within the bandwidth; None unless the scan reaches around it."""
        if self._scan is None:
            return None
        places, dbm = self._scan
        half = -(-self._record.bandwidth_hz // 2)
        if not len(places) or places[0] > hz - half or places[-1] < hz + half:
            return None
        # The points outside the edges count too: a peak may lie between two points.
        low = max(0, int(np.searchsorted(places, hz - half, side="right")) - 1)
        high = int(np.searchsorted(places, hz + half, side="left")) + 1
        return float(dbm[low:high].max())
