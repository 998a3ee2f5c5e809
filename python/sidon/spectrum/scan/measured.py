"""The levels of one scan: reductions, floor, what is occupied, channel power."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Literal, Unpack

import numpy as np
from numpy.typing import NDArray

from sidon._arrays import Distance, Frequencies, distance, frequency_column
from sidon._columns import Columns, frozen
from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan import floor as floors
from sidon.spectrum.scan import power, statistics, traces
from sidon.spectrum.scan.about import Facts
from sidon.spectrum.scan.cells import Coverage, Span, asked_hz, coverage, covered_spans
from sidon.spectrum.scan.heard import Heard
from sidon.spectrum.scan.occupied import Occupied
from sidon.spectrum.scan.planning import ScanExclusion, excess_db, exclusions_of
from sidon.spectrum.scan.power import ChannelPower
from sidon.spectrum.scan.read import Reading
from sidon.spectrum.scan.rule import Rule, Threshold, rule
from sidon.spectrum.scan.sight import Sight, look

if TYPE_CHECKING:
    from sidon.spectrum.scan.table import Numbers

__all__ = ["Measured"]

Trace = Literal["max_hold", "mean", "median"]


class Measured(Heard):
    """Levels over frequency, as one or more sweeps heard them.

    Parameters
    ----------
    reading : Reading
        What was read.
    """

    __slots__ = ("_cache", "_reading")

    _reading: Reading
    _cache: dict[Rule, Sight]

    def __init__(self, reading: Reading) -> None:
        object.__setattr__(self, "_reading", reading)
        object.__setattr__(self, "_cache", {})

    def __setattr__(self, name: str, value: object) -> None:
        what = f"a scan is immutable; {name!r} cannot be set"
        raise AttributeError(what)

    @property
    def frequency_hz(self) -> NDArray[np.int64]:
        """Frequencies in hertz, ascending, each once."""
        return self._reading.frequency_hz

    @property
    def levels_dbm(self) -> Numbers:
        """Levels in dBm, one row per sweep; NaN where a sweep has no reading."""
        return self._reading.levels_dbm

    @property
    def sweep_names(self) -> tuple[str, ...]:
        """Names of the sweeps, where the input gives them."""
        return self._reading.sweep_names

    @property
    def facts(self) -> Facts:
        """What was said of the scan: bandwidth, averaging, when, where."""
        return self._reading.facts

    @property
    def resolution_bandwidth_hz(self) -> int | None:
        """3 dB width of the resolution filter; None where it is not known."""
        return self.facts.resolution_bandwidth_hz

    @property
    def taken(self) -> dt.date | None:
        """When it was taken."""
        return self.facts.taken

    @property
    def name(self) -> str:
        """What it is called."""
        return self.facts.name

    @property
    def spot(self) -> str:
        """Where it was taken."""
        return self.facts.spot

    @property
    def antenna(self) -> str:
        """With which antenna."""
        return self.facts.antenna

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a reader must mind."""
        return self._reading.warnings

    @property
    def notes(self) -> tuple[str, ...]:
        """What was taken for granted."""
        return self._reading.notes

    def max_hold(self) -> Numbers:
        """Return the highest level at each frequency, in dBm."""
        return frozen(traces.maximum(self.levels_dbm).copy())

    def mean(self) -> Numbers:
        """Return the mean power at each frequency, in dBm; powers are averaged, not decibels."""
        return frozen(traces.mean(self.levels_dbm).copy())

    def median(self) -> Numbers:
        """Return the median level at each frequency, in dBm."""
        return self.quantile(0.5)

    def quantile(self, share: float) -> Numbers:
        """Return a quantile of the levels at each frequency, in dBm.

        Parameters
        ----------
        share : float
            Between 0 and 1.

        Returns
        -------
        numpy.ndarray
            As measured: the quantile of noise lies below its mean, see `floor`.
        """
        if not 0 <= share <= 1:
            what = f"{share!r} is not between 0 and 1"
            raise InvalidProblemError([Fault("share", what, "give a share such as 0.2")])
        return frozen(traces.quantile(self.levels_dbm, share).copy())

    def floor(
        self,
        method: Literal["frequency", "sweeps"] = "frequency",
        *,
        share: float = 0.2,
        **threshold: Unpack[Threshold],
    ) -> Numbers:
        """Estimate the noise floor: mean noise power per point in the resolution bandwidth.

        Parameters
        ----------
        method : str, default "frequency"
            ``"frequency"``: a low quantile of the mean trace in windows that follow the floor
            across frequency, signals left out. ``"sweeps"``: for each frequency the mean of its
            lowest readings in time; a signal that never pauses stands in it.
        share : float, default 0.2
            For ``"sweeps"``: which share of the readings is averaged, from the lowest up.
        **threshold
            ``window`` (30 MHz unless given) for ``"frequency"``; see `occupied`.

        Returns
        -------
        numpy.ndarray
            In dBm, freed of the bias that a quantile of noise has for so many averages.
        """
        if method == "frequency":
            return frozen(self._sight(threshold).floor_dbm + self.facts.noise_offset_db)
        if str(method) != "sweeps" or not 0 < share <= 1:
            what = f"{method!r} with share {share!r}"
            remedy = "use 'frequency', or 'sweeps' with a share above 0 and at most 1"
            raise InvalidProblemError([Fault("method", what, remedy)])
        found = floors.across_sweeps(
            self.levels_dbm, share=share, averages=self.facts.independent, held=self.facts.held
        )
        return frozen(found.level_dbm + self.facts.noise_offset_db)

    def threshold(self, **threshold: Unpack[Threshold]) -> Numbers:
        """Return the level, in dBm, above which a frequency counts as occupied; see `occupied`."""
        return frozen(self._sight(threshold).threshold_dbm.copy())

    def occupancy(self, **threshold: Unpack[Threshold]) -> Numbers:
        """Return how often each frequency was above the threshold, 0 to 1; see `occupied`."""
        return frozen(self._sight(threshold).share.copy())

    def occupied(self, **threshold: Unpack[Threshold]) -> tuple[Occupied, ...]:
        """List the intervals in which max hold stands above the threshold.

        Parameters
        ----------
        **threshold
            ``above_db`` (5 unless given): the least distance of the threshold above the floor.
            ``false_hits`` (1): how many points noise alone may lift above it, on average; many
            points need more distance, which the exponential distribution of noise power gives.
            ``threshold_dbm``: one level for all instead. ``bridge`` (100 kHz): intervals with
            less between them are one. ``window`` (30 MHz): over which the floor is followed.

        Returns
        -------
        tuple of Occupied
            Ascending.
        """
        return self._sight(threshold).occupied

    def channel_power(
        self,
        low: Distance,
        high: Distance,
        *,
        limit_dbm: float | None = None,
        trace: Trace = "mean",
        name: str = "",
    ) -> ChannelPower:
        """Add up the power over a channel, and compare it with a limit.

        Parameters
        ----------
        low, high : int or str
            Edges in hertz, or as texts such as ``"470 MHz"``.
        limit_dbm : float, optional
            Such as -84.
        trace : str, default "mean"
            ``"mean"``, ``"max_hold"`` or ``"median"``.
        name : str, optional
            Name of the channel.

        Returns
        -------
        ChannelPower
            Power, the scan's own floor over the channel, and a verdict, which is
            ``"cannot tell"`` where the floor is too high or the channel is not all covered.

        Raises
        ------
        InvalidProblemError
            The resolution bandwidth is not known, or the edges are not in order.

        Notes
        -----
        Sum over points of power times cell over noise bandwidth. What noise alone would add up
        to is compared in the same trace, which max hold lifts; the median is freed of what it
        reads low for noise. A limit in a rule applies as the
        rule says (antenna, place, date): this is arithmetic, not a permission.
        """
        span = _span(low, high)
        width = self.facts.noise_bandwidth_hz
        if width is None:
            remedy = "give it when reading the scan"
            what = "channel power needs the resolution bandwidth"
            raise InvalidProblemError([Fault("resolution_bandwidth", what, remedy)])
        sight = self._sight({})
        levels, bias = self._trace(trace)
        total, covered = power.power_dbm(levels, sight.edges_hz, span, width)
        own, _ = power.power_dbm(sight.floor_dbm + bias, sight.edges_hz, span, width)
        more = self.facts.noise_offset_db
        return power.judge(span, total + more, own + more, covered, limit_dbm, name=name)

    def _trace(self, trace: Trace) -> tuple[Numbers, float]:
        """One trace, and how far noise alone lies above its mean power in it."""
        facts = self.facts
        if trace == "max_hold":
            return traces.maximum(self.levels_dbm), self._sight({}).held_bias_db
        bias = statistics.mean_db(averages=facts.independent, held=facts.held)
        if trace == "mean":
            return traces.mean(self.levels_dbm), bias
        if str(trace) != "median":
            what = f"{trace!r} is no trace"
            remedy = "use 'mean', 'max_hold' or 'median'"
            raise InvalidProblemError([Fault("trace", what, remedy)])
        if facts.held == 1:
            # Of noise, a median lies below the mean.
            sweeps = int(np.median(traces.counts(self.levels_dbm)))
            low = statistics.median_of_db(sweeps, averages=facts.independent)
            return traces.quantile(self.levels_dbm, 0.5) - low, bias
        return traces.quantile(self.levels_dbm, 0.5), bias

    def channels(
        self,
        channels: Mapping[Any, Span],
        *,
        limit_dbm: float | None = None,
        trace: Trace = "mean",
    ) -> list[ChannelPower]:
        """Add up the power over every channel of a raster; see `channel_power`.

        Parameters
        ----------
        channels : mapping
            Edges in hertz by name or number, such as those of `sidon.spectrum.scan.tv_channels`.
        limit_dbm, trace
            As for `channel_power`.

        Returns
        -------
        list of ChannelPower
            In their order; those that were not heard say so.
        """
        return [
            self.channel_power(*span, limit_dbm=limit_dbm, trace=trace, name=str(name))
            for name, span in channels.items()
        ]

    def noise_dbm(self, bandwidth: Distance) -> Numbers:
        """Give the floor in another bandwidth: noise grows with it, carriers do not.

        Parameters
        ----------
        bandwidth : int or str
            A receiver's, in hertz or as a text such as ``"200 kHz"``.

        Returns
        -------
        numpy.ndarray
            In dBm.

        Raises
        ------
        InvalidProblemError
            The resolution bandwidth is not known.
        """
        width = self.facts.noise_bandwidth_hz
        if width is None:
            what = "noise in another bandwidth needs the resolution bandwidth"
            remedy = "give it when reading the scan"
            raise InvalidProblemError([Fault("resolution_bandwidth", what, remedy)])
        return frozen(self.floor() + 10 * math.log10(_wide(bandwidth) / width))

    def level_dbm(self, interval: Occupied, bandwidth: Distance) -> float:
        """Give the level of an occupied interval as a receiver of another bandwidth takes it.

        Parameters
        ----------
        interval : Occupied
            One of `occupied`.
        bandwidth : int or str
            The receiver's.

        Returns
        -------
        float
            In dBm. Corrected for bandwidth only where the interval is wide and so like noise,
            and never beyond its own width; the level of a narrow carrier stays.
        """
        width = self.facts.noise_bandwidth_hz
        if not interval.wide or width is None:
            return interval.peak_dbm
        own = min(_wide(bandwidth), interval.width_hz)
        return interval.peak_dbm + 10 * math.log10(own / width)

    def coverage(self, ranges: Iterable[Span]) -> Coverage:
        """Say which parts of ranges the scan covers; the rest is not known, neither quiet nor free.

        Parameters
        ----------
        ranges : iterable of (int, int)
            In hertz.

        Returns
        -------
        Coverage
            Covered and missing parts.
        """
        return coverage(self.spans, asked_hz(ranges, "ranges"))

    @property
    def spans(self) -> list[Span]:
        """The stretches it has heard, in hertz, ascending."""
        return covered_spans(*self._sight({}).edges_hz)

    def exclusions(
        self, *, widen: Distance = 0, clear: Distance = 0, **threshold: Unpack[Threshold]
    ) -> list[ScanExclusion]:
        """List what is occupied as ranges to keep clear of, with reason and date.

        Parameters
        ----------
        widen : int or str, default 0
            Kept clear on either side as well.
        clear : int or str, default 0
            Kept clear on either side of the middle of an interval, at least; a study takes 250 kHz
            unless it says `widen`.
        **threshold
            See `occupied`.

        Returns
        -------
        list of ScanExclusion
            Ascending.
        """
        occupied = self.occupied(**threshold)
        return exclusions_of(
            occupied,
            self.facts,
            widen_hz=_hertz(widen, "widen"),
            clear_hz=_hertz(clear, "clear"),
        )

    def excess_db(self, candidates_hz: Frequencies, *, bandwidth: Distance = 200_000) -> Numbers:
        """Give the power of max hold around frequencies, above what noise alone would give.

        Parameters
        ----------
        candidates_hz : array
            Frequencies in hertz.
        bandwidth : int or str, default 200 kHz
            Width around each.

        Returns
        -------
        numpy.ndarray
            In dB; NaN where the width was not all heard.
        """
        where = frequency_column(candidates_hz, "candidates_hz")
        return frozen(excess_db(self._sight({}), where, bandwidth_hz=_wide(bandwidth))[0])

    def cautions(self, **threshold: Unpack[Threshold]) -> tuple[str, ...]:
        """List what a reader must mind: `warnings`, and where the floor cannot be trusted."""
        return (*self.warnings, *self._sight(threshold).warnings)

    def table(self, **threshold: Unpack[Threshold]) -> Columns:
        """Return the traces as a table.

        Parameters
        ----------
        **threshold
            See `occupied`.

        Returns
        -------
        Columns
            ``frequency_hz``, ``max_hold_dbm``, ``mean_dbm``, ``floor_dbm``, ``threshold_dbm`` and
            ``occupancy``.
        """
        sight = self._sight(threshold)
        return Columns(
            frequency_hz=self.frequency_hz,
            max_hold_dbm=self.max_hold(),
            mean_dbm=self.mean(),
            floor_dbm=frozen(sight.floor_dbm.copy()),
            threshold_dbm=frozen(sight.threshold_dbm.copy()),
            occupancy=frozen(sight.share.copy()),
        )

    def _sight(self, threshold: Mapping[str, Any]) -> Sight:
        by = rule(threshold)
        if by not in self._cache:
            self._cache[by] = look(self._reading, by)
        return self._cache[by]

    def __len__(self) -> int:
        return len(self.frequency_hz)


def _hertz(value: Distance, place: str) -> int:
    found = distance(value, place)
    if found < 0:
        raise InvalidProblemError([Fault(place, f"{found} Hz is negative", "give 0 or more")])
    return found


def _wide(bandwidth: Distance) -> int:
    found = _hertz(bandwidth, "bandwidth")
    if found == 0:
        raise InvalidProblemError([Fault("bandwidth", "0 Hz is no bandwidth", "give a width")])
    return found


def _span(low: Distance, high: Distance) -> Span:
    edges = _hertz(low, "low"), _hertz(high, "high")
    if edges[0] >= edges[1]:
        what = f"{edges[0]} Hz is not below {edges[1]} Hz"
        raise InvalidProblemError([Fault("low, high", what, "give the lower edge first")])
    asked_hz([edges], "low, high")
    return edges
