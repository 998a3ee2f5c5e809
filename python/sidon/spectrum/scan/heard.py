"""What one scan and several merged ones share: costs, comparison, text, files."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
from numpy.typing import NDArray

from sidon._arrays import Distance, FaultList, Frequencies, distance, frequency_column
from sidon._columns import Columns
from sidon.spectrum.scan.cells import Coverage, Span
from sidon.spectrum.scan.compare import compared
from sidon.spectrum.scan.occupied import Occupied
from sidon.spectrum.scan.planning import MOST_DB, QUIET_DB, ScanExclusion, costs_of
from sidon.spectrum.scan.rule import Threshold
from sidon.spectrum.scan.text import repr_text, summary_text

if TYPE_CHECKING:
    from sidon.spectrum.scan.scan import Scan

__all__ = ["Heard"]


class Heard(ABC):
    """What was heard on the air, by one scan or by several."""

    __slots__ = ()

    @property
    @abstractmethod
    def scans(self) -> tuple[Scan, ...]:
        """The scans it is made of."""

    @property
    @abstractmethod
    def frequency_hz(self) -> NDArray[np.int64]:
        """Frequencies in hertz, ascending, each once."""

    @property
    @abstractmethod
    def name(self) -> str:
        """What it is called."""

    @property
    @abstractmethod
    def spans(self) -> list[Span]:
        """The stretches that were heard, in hertz, ascending."""

    @property
    @abstractmethod
    def warnings(self) -> tuple[str, ...]:
        """What a reader must mind."""

    @property
    @abstractmethod
    def notes(self) -> tuple[str, ...]:
        """What was taken for granted."""

    @abstractmethod
    def coverage(self, ranges: Iterable[Span]) -> Coverage:
        """Say which parts of ranges, in hertz, were heard."""

    @abstractmethod
    def occupied(self, **threshold: Unpack[Threshold]) -> tuple[Occupied, ...]:
        """List the intervals that are occupied."""

    @abstractmethod
    def exclusions(
        self, *, widen: Distance = 0, clear: Distance = 0, **threshold: Unpack[Threshold]
    ) -> list[ScanExclusion]:
        """List what is occupied as ranges to keep clear of."""

    @abstractmethod
    def table(self, **threshold: Unpack[Threshold]) -> Columns:
        """Return the traces as a table."""

    def costs(
        self,
        candidates_hz: Frequencies,
        *,
        bandwidth: Distance = 200_000,
        quiet_db: float = QUIET_DB,
        most: int = MOST_DB,
        weight: int = 1,
    ) -> NDArray[np.int64]:
        """Say how dear each candidate is, so that a search prefers quiet air.

        Parameters
        ----------
        candidates_hz : array
            Frequencies in hertz.
        bandwidth : int or str, default 200 kHz
            Width around each that a receiver takes in.
        quiet_db : float, default 3
            So much above the floor still costs nothing: the scatter of noise.
        most : int, default 40
            Cap in decibels, and what a frequency costs whose bandwidth was not all heard: what is
            not known is never taken for quiet.
        weight : int, default 1
            Cost of one decibel.

        Returns
        -------
        numpy.ndarray
            int64, in the order of the candidates: decibels of max hold above the floor over the
            bandwidth, rounded up, the worst of all scans. Ready for ``costs`` of
            `Problem.from_arrays`. O(points + candidates).

        Examples
        --------
        >>> import sidon
        >>> from sidon import MHz, kHz
        >>> from sidon.spectrum.scan import demo_scan
        >>> scan = demo_scan(seed=1)
        >>> band = range(518 * MHz, 530 * MHz, 25 * kHz)
        >>> costs = scan.costs(band)
        >>> problem = sidon.Problem.from_arrays(
        ...     domains=[list(band)], link_domain=[0] * 4, separation=350 * kHz, costs=[costs]
        ... )
        >>> best = sidon.solve(problem, objective="min-interference", seed=1, iterations=2_000)
        >>> int(scan.costs(best.frequencies).max())
        0
        """
        faults = FaultList()
        empty = np.empty(0, dtype=np.int64)
        where = faults.take(empty, frequency_column, candidates_hz, "candidates_hz")
        width = faults.take(1, distance, bandwidth, "bandwidth")
        if width <= 0:
            faults.add("bandwidth", f"{width} Hz is not above zero", "give a width")
        for key, value in (("most", most), ("weight", weight)):
            if type(value) is not int or not 0 < value <= 10_000:
                faults.add(key, f"{value!r} is no whole number from 1 to 10,000", "give one")
        if not 0 <= quiet_db <= 100:
            faults.add("quiet_db", f"{quiet_db!r} is not between 0 and 100", "give decibels")
        faults.raise_if_any()
        return costs_of(
            [scan._sight({}) for scan in self.scans],
            where,
            bandwidth_hz=width,
            quiet_db=quiet_db,
            most=most,
            weight=weight,
        )

    def compare(
        self,
        channels: Mapping[Any, Span],
        occupied: Iterable[Any],
        **threshold: Unpack[Threshold],
    ) -> Columns:
        """Set what was heard beside a list of occupied channels, both ways.

        Parameters
        ----------
        channels : mapping
            Edges in hertz of every channel, by name or number; see `tv_channels`.
        occupied : iterable
            Those that a table calls occupied.
        **threshold
            See `occupied`.

        Returns
        -------
        Columns
            One row per channel: ``channel``, ``low_hz``, ``high_hz``, ``listed``, ``heard`` and
            ``filled`` (shares), ``peak_dbm``, ``finding``. A listed channel that is not seen
            stays occupied: a scan hears one place, one antenna and one moment.

        Raises
        ------
        InvalidProblemError
            An occupied channel is not among the channels.

        Examples
        --------
        >>> import sidon
        >>> from sidon.spectrum.scan import demo_scan, tv_channels
        >>> scan = demo_scan(seed=1)
        >>> table = scan.compare(tv_channels("470 MHz", "6 MHz", 14, 36), [15, 22])
        >>> dict(zip(table["channel"].tolist(), table["finding"].tolist()))["15"]
        'listed and seen'
        """
        names = {str(name): (int(low), int(high)) for name, (low, high) in channels.items()}
        listed = [str(name) for name in occupied]
        faults = FaultList()
        for name in listed:
            if name not in names:
                remedy = f"use one of {', '.join(list(names)[:40])}"
                faults.add("occupied", f"channel {name} is not among the channels", remedy)
        faults.raise_if_any()
        return compared(self.occupied(**threshold), self.spans, names, listed)

    def summary(
        self,
        *,
        ranges: Iterable[Span] | None = None,
        channels: Mapping[Any, Span] | None = None,
        listed: Iterable[Any] = (),
        limit_dbm: float | None = None,
        **threshold: Unpack[Threshold],
    ) -> str:
        """Say in words what was heard: coverage, floor, occupied parts, cautions.

        Parameters
        ----------
        ranges : iterable of (int, int), optional
            What is of interest, in hertz.
        channels : mapping, optional
            Edges in hertz of TV channels by number.
        listed : iterable, optional
            Channels that a table calls occupied.
        limit_dbm : float, optional
            Limit of channel power.
        **threshold
            See `occupied`.

        Returns
        -------
        str
            Several lines.
        """
        return summary_text(
            self,
            ranges=None if ranges is None else list(ranges),
            channels=channels,
            listed=list(listed),
            limit_dbm=limit_dbm,
            threshold=threshold,
        )

    def to_csv(self, path: str | Path, **threshold: Unpack[Threshold]) -> None:
        """Write `table` as comma-separated values, whole or not at all.

        Parameters
        ----------
        path : str or Path
            Where to; an existing file is replaced in one step.
        **threshold
            See `occupied`.

        Raises
        ------
        OSError
            When it cannot be written; what stood there before still does.
        """
        rounded = {
            name: np.round(column, 2) if column.dtype.kind == "f" else column
            for name, column in self.table(**threshold).items()
        }
        Columns(rounded).to_csv(path)

    def __repr__(self) -> str:
        return repr_text(self)

    def _repr_html_(self) -> str:
        import html

        return f"<pre>{html.escape(self.summary())}</pre>"
