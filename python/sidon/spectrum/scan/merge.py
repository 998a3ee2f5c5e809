"""Scans of several times, spots and resolutions side by side: what any of them saw, and which."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Unpack

import numpy as np
from numpy.typing import NDArray

from sidon._arrays import Distance
from sidon._columns import Columns, frozen
from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan.cells import Coverage, Span, asked_hz, coverage, merged
from sidon.spectrum.scan.heard import Heard
from sidon.spectrum.scan.occupied import Occupied
from sidon.spectrum.scan.planning import ScanExclusion
from sidon.spectrum.scan.rule import Threshold

if TYPE_CHECKING:
    from sidon.spectrum.scan.scan import Scan
    from sidon.spectrum.scan.table import Numbers

__all__ = ["MergedScan"]


class MergedScan(Heard):
    """Several scans, each with its own resolution, floor and threshold.

    Levels of different resolution bandwidths are set side by side as they were measured: a carrier
    reads the same in each, noise does not. So floors and thresholds stay those of each scan, and
    only what was found is joined.

    Parameters
    ----------
    scans : iterable of Scan
        At least one; unnamed ones are called by their number.

    Examples
    --------
    >>> from sidon import Scan
    >>> from sidon.spectrum.scan import demo_text
    >>> day = Scan.from_text(demo_text(seed=1), name="day")
    >>> night = Scan.from_text(demo_text(seed=2), name="night")
    >>> both = day.merge(night)
    >>> both.occupied()[0].seen_by
    ('day', 'night')
    """

    __slots__ = ("_scans",)

    _scans: tuple[Scan, ...]

    def __init__(self, scans: Iterable[Scan]) -> None:
        found = tuple(scans)
        if not found:
            raise InvalidProblemError([Fault("scans", "there are none", "give at least one scan")])
        object.__setattr__(self, "_scans", found)

    def __setattr__(self, name: str, value: object) -> None:
        what = f"a merged scan is immutable; {name!r} cannot be set"
        raise AttributeError(what)

    @property
    def scans(self) -> tuple[Scan, ...]:
        """The scans it is made of."""
        return self._scans

    @property
    def name(self) -> str:
        """The names of all scans."""
        return ", ".join(self.names)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the scans, all different."""
        found: list[str] = []
        for number, scan in enumerate(self.scans, start=1):
            name = scan.name or f"scan {number}"
            found.append(name if name not in found else f"{name} ({number})")
        return tuple(found)

    @property
    def frequency_hz(self) -> NDArray[np.int64]:
        """All frequencies at which any scan has a point, in hertz."""
        return frozen(np.unique(np.concatenate([scan.frequency_hz for scan in self.scans])))

    @property
    def spans(self) -> list[Span]:
        """The stretches that any of them has heard."""
        return merged(span for scan in self.scans for span in scan.spans)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a reader must mind, by scan."""
        own = zip(self.names, self.scans, strict=True)
        found = [f"{name}: {text}" for name, scan in own for text in scan.warnings]
        widths = {scan.resolution_bandwidth_hz for scan in self.scans}
        if len(widths) > 1:
            found.append(
                "the resolution bandwidths differ: carriers compare, levels of noise do not"
            )
        return tuple(found)

    @property
    def notes(self) -> tuple[str, ...]:
        """What was taken for granted, by scan."""
        own = zip(self.names, self.scans, strict=True)
        return tuple(f"{name}: {text}" for name, scan in own for text in scan.notes)

    def max_hold(self) -> Numbers:
        """Return the highest level that any scan has at each of `frequency_hz`, in dBm.

        A point of a coarse scan stands for all of its piece of spectrum. O(points * scans).
        """
        return self._strongest()[0]

    def loudest(self) -> NDArray[np.int64]:
        """Return which scan, counted from 0, has the highest level at each of `frequency_hz`."""
        return self._strongest()[1]

    def coverage(self, ranges: Iterable[Span]) -> Coverage:
        """Say which parts of ranges, in hertz, any scan covers; the rest is not known."""
        return coverage(self.spans, asked_hz(ranges, "ranges"))

    def occupied(self, **threshold: Unpack[Threshold]) -> tuple[Occupied, ...]:
        """List what any scan sees above its own threshold, and which saw it; see `Scan.occupied`.

        Intervals that overlap are one, with the peak of the strongest.
        """
        rows = [
            replace(row, seen_by=(name,))
            for name, scan in zip(self.names, self.scans, strict=True)
            for row in scan.occupied(**threshold)
        ]
        joined: list[Occupied] = []
        for row in sorted(rows, key=lambda row: (row.low_hz, row.high_hz)):
            if joined and row.low_hz < joined[-1].high_hz:
                joined[-1] = _joined(joined[-1], row)
            else:
                joined.append(row)
        order = {name: place for place, name in enumerate(self.names)}
        return tuple(
            replace(row, seen_by=tuple(sorted(set(row.seen_by), key=order.__getitem__)))
            for row in joined
        )

    def exclusions(
        self, *, widen: Distance = 0, clear: Distance = 0, **threshold: Unpack[Threshold]
    ) -> list[ScanExclusion]:
        """List what each scan found occupied, with its own reason and date; ranges may overlap."""
        found = [
            row
            for scan in self.scans
            for row in scan.exclusions(widen=widen, clear=clear, **threshold)
        ]
        return sorted(found, key=lambda row: (row.low_hz, row.high_hz))

    def table(self, **threshold: Unpack[Threshold]) -> Columns:
        """Return what was heard as a table.

        Parameters
        ----------
        **threshold
            Not used: thresholds are each scan's own.

        Returns
        -------
        Columns
            ``frequency_hz``, ``max_hold_dbm`` and ``scan``, the name of the loudest.
        """
        names = np.array(self.names)
        level, which = self._strongest()
        return Columns(
            frequency_hz=self.frequency_hz, max_hold_dbm=level, scan=frozen(names[which])
        )

    def _strongest(self) -> tuple[Numbers, NDArray[np.int64]]:
        where = self.frequency_hz
        best = np.full(len(where), -np.inf)
        which = np.zeros(len(where), dtype=np.int64)
        for number, scan in enumerate(self.scans):
            low, high = scan._sight({}).edges_hz
            at = np.searchsorted(low, where, side="right") - 1
            heard = (at >= 0) & (where <= high[np.maximum(at, 0)])
            level = np.where(heard, scan.max_hold()[np.maximum(at, 0)], -np.inf)
            louder = level > best
            best[louder], which[louder] = level[louder], number
        return frozen(best), frozen(which)

    def __len__(self) -> int:
        return len(self.frequency_hz)

    def __eq__(self, other: object) -> bool:
        return self._scans == other._scans if isinstance(other, MergedScan) else NotImplemented

    # Equal scans hold equal arrays, which have no hash.
    __hash__ = None  # type: ignore[assignment]

    def __reduce__(self) -> tuple[object, ...]:
        return (MergedScan, (self._scans,))

    def __repr__(self) -> str:
        return f"MergedScan({', '.join(map(repr, self.scans))})"


def _joined(a: Occupied, b: Occupied) -> Occupied:
    louder = a if a.peak_dbm >= b.peak_dbm else b
    return Occupied(
        low_hz=min(a.low_hz, b.low_hz),
        high_hz=max(a.high_hz, b.high_hz),
        peak_hz=louder.peak_hz,
        peak_dbm=louder.peak_dbm,
        share=max(a.share, b.share),
        wide=louder.wide,
        seen_by=(*a.seen_by, *b.seen_by),
    )
