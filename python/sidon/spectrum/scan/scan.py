"""A scan: sweeps of levels over frequency at one spot, from files, texts, frames and arrays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
from numpy.typing import ArrayLike

from sidon._arrays import Frequencies
from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan.about import About
from sidon.spectrum.scan.delimited import read_delimited, read_text_file
from sidon.spectrum.scan.measured import Measured
from sidon.spectrum.scan.options import checked
from sidon.spectrum.scan.read import Columns as ColumnOptions
from sidon.spectrum.scan.read import read_table
from sidon.spectrum.scan.table import Table, from_frame

if TYPE_CHECKING:
    from sidon.spectrum.scan.merge import MergedScan

__all__ = ["Scan"]


class Scan(Measured):
    """Levels over frequency, as one or more sweeps heard them at one spot.

    Made by `from_file`, `from_text`, `from_arrays` or `from_frame`. Immutable, compares by value,
    pickles. Levels are in dBm in the resolution bandwidth; frequencies are whole hertz.

    All of these take, as keywords, what a sweep does not say of itself:

    ``resolution_bandwidth``
        3 dB width of the resolution filter, in hertz or as a text such as ``"10 kHz"``; of a
        sweep made by a transform, the bin width. Read from the lines above the table when it
        stands there. Without it no channel power is given.
    ``noise_factor``
        Noise bandwidth over that width: 1.0645 (a Gaussian filter) unless given.
    ``averages``
        Independent readings averaged, in power, into each level (1 unless given).
    ``averaged_in``
        ``"power"``, or ``"decibels"`` where the receiver averages its display: noise and TV then
        read 2.5 dB low, which floor and channel power make up for.
    ``held``
        For a file that is itself max hold: how many sweeps it held (1 unless given).
    ``taken``
        A date, or a text such as ``"2031-05-01"`` or ``"2031-05-01T18:00"``.
    ``name``, ``spot``, ``antenna``
        Notes; the name is the file's unless given.

    Attributes
    ----------
    frequency_hz : numpy.ndarray
        int64, ascending, each once.
    levels_dbm : numpy.ndarray
        One row per sweep; NaN where a sweep has no reading.
    warnings : tuple of str
        What a reader must mind: gaps, missing levels, odd values.
    notes : tuple of str
        What was taken for granted, such as a unit.

    Examples
    --------
    >>> import sidon
    >>> from sidon.spectrum.scan import demo_scan
    >>> demo_scan()
    Scan('invented', 470.000-608.000 MHz, 5521 points, 20 sweeps)
    """

    __slots__ = ()

    @classmethod
    def from_file(
        cls,
        path: str | Path,
        *,
        delimiter: str | None = None,
        decimal: str | None = None,
        frequency: str | int | None = None,
        level: str | int | Sequence[str | int] | None = None,
        sweep: str | int | None = None,
        frequency_unit: str | None = None,
        level_unit: str | None = None,
        **about: Unpack[About],
    ) -> Scan:
        """Read delimited text: two columns or many, with or without header and preamble.

        Parameters
        ----------
        path : str or Path
            The file.
        delimiter, decimal : str, optional
            What parts cells and marks decimals; found out when not given.
        frequency, level, sweep : str or int, optional
            Columns by name or by number from 1. Several levels are one sweep each. Without a
            sweep column a new sweep begins where the frequency starts again.
        frequency_unit : str, optional
            Hz, kHz, MHz or GHz; read from the header, else told by size.
        level_unit : str, optional
            dBm, dBuV (over 50 ohm) or dBm/Hz; read from the header, else dBm.
        **about
            See `Scan`.

        Returns
        -------
        Scan
            Sorted, in hertz and dBm.

        Raises
        ------
        UnreadableError
            It is no table.
        InvalidProblemError
            Columns are not clear, or the values are no scan; the message lists the columns.
        OSError
            The file cannot be read.
        """
        path = Path(path)
        known = checked(
            about,
            delimiter=delimiter,
            decimal=decimal,
            frequency_unit=frequency_unit,
            level_unit=level_unit,
        )
        table = read_delimited(
            read_text_file(path), source=path.name, delimiter=delimiter, decimal=decimal
        )
        options = ColumnOptions(
            frequency=frequency,
            level=level,
            sweep=sweep,
            frequency_unit=frequency_unit,
            level_unit=level_unit,
        )
        return cls(read_table(table, options, known.named(path.stem)))

    @classmethod
    def from_text(
        cls,
        text: str,
        *,
        source: str = "the text",
        delimiter: str | None = None,
        decimal: str | None = None,
        frequency: str | int | None = None,
        level: str | int | Sequence[str | int] | None = None,
        sweep: str | int | None = None,
        frequency_unit: str | None = None,
        level_unit: str | None = None,
        **about: Unpack[About],
    ) -> Scan:
        """Read delimited text that is at hand; messages call it `source`. See `from_file`."""
        known = checked(
            about,
            delimiter=delimiter,
            decimal=decimal,
            frequency_unit=frequency_unit,
            level_unit=level_unit,
        )
        table = read_delimited(text, source=source, delimiter=delimiter, decimal=decimal)
        options = ColumnOptions(
            frequency=frequency,
            level=level,
            sweep=sweep,
            frequency_unit=frequency_unit,
            level_unit=level_unit,
        )
        return cls(read_table(table, options, known))

    @classmethod
    def from_frame(
        cls,
        frame: Any,  # noqa: ANN401 - pandas and polars are not imported for the sake of a name
        *,
        frequency: str | int | None = None,
        level: str | int | Sequence[str | int] | None = None,
        sweep: str | int | None = None,
        frequency_unit: str | None = None,
        level_unit: str | None = None,
        **about: Unpack[About],
    ) -> Scan:
        """Take columns of a data frame of pandas or polars, or of a mapping; see `from_file`."""
        options = ColumnOptions(
            frequency=frequency,
            level=level,
            sweep=sweep,
            frequency_unit=frequency_unit,
            level_unit=level_unit,
        )
        known = checked(about, frequency_unit=frequency_unit, level_unit=level_unit)
        return cls(read_table(from_frame(frame, "the frame"), options, known))

    @classmethod
    def from_arrays(
        cls,
        frequency: Frequencies,
        level: ArrayLike,
        *,
        sweep: Iterable[object] | None = None,
        frequency_unit: str = "Hz",
        level_unit: str = "dBm",
        **about: Unpack[About],
    ) -> Scan:
        """Make a scan from arrays.

        Parameters
        ----------
        frequency : array
            One frequency per point.
        level : array
            One level per point, or one row of them per sweep.
        sweep : array, optional
            To which sweep each point belongs.
        frequency_unit, level_unit : str
            As for `from_file`.
        **about
            See `Scan`.

        Returns
        -------
        Scan
            Sorted, in hertz and dBm.

        Raises
        ------
        InvalidProblemError
            Lengths differ, or the values are no scan.
        """
        known = checked(about, frequency_unit=frequency_unit, level_unit=level_unit)
        try:
            where = np.asarray(frequency, dtype=np.float64)
            rows = np.atleast_2d(np.asarray(level, dtype=np.float64))
        except (TypeError, ValueError) as error:
            what = f"not all values are numbers ({error})"
            raise InvalidProblemError([Fault("frequency, level", what, "give arrays")]) from None
        if where.ndim != 1 or rows.ndim != 2 or rows.shape[1] != len(where) or not len(where):
            what = f"levels of shape {rows.shape} for {where.size} frequencies"
            remedy = "give one level per frequency, or one row of them per sweep"
            raise InvalidProblemError([Fault("level", what, remedy)])
        which = [] if sweep is None else [str(name) for name in sweep]
        if sweep is not None and len(which) != len(where):
            what = f"{len(which)} entries for {len(where)} points"
            raise InvalidProblemError([Fault("sweep", what, "give one entry per point")])
        named = ("frequency", *(f"level {i + 1}" for i in range(len(rows))), "sweep")
        last = len(named) - 1
        table = Table(
            source="the arrays",
            names=named if which else named[:-1],
            numbers=dict(enumerate([where, *rows])),
            texts=lambda _index: which,
        )
        options = ColumnOptions(
            frequency=1,
            level=list(range(2, last + 1)),
            sweep=last + 1 if which else None,
            frequency_unit=frequency_unit,
            level_unit=level_unit,
        )
        return cls(read_table(table, options, known))

    @property
    def scans(self) -> tuple[Scan, ...]:
        """The scan itself, as the one part of a whole; see `MergedScan.scans`."""
        return (self,)

    def merge(self, *others: Scan) -> MergedScan:
        """Put scans of other times and spots beside this one.

        Parameters
        ----------
        *others : Scan
            Of any resolution and range.

        Returns
        -------
        MergedScan
            What any of them saw, and which.
        """
        from sidon.spectrum.scan.merge import MergedScan

        return MergedScan((self, *others))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Scan):
            return NotImplemented
        return (
            self.facts == other.facts
            and np.array_equal(self.frequency_hz, other.frequency_hz)
            and np.array_equal(self.levels_dbm, other.levels_dbm, equal_nan=True)
        )

    # Equal scans hold equal arrays, which have no hash.
    __hash__ = None  # type: ignore[assignment]

    def __reduce__(self) -> tuple[object, ...]:
        return (Scan, (self._reading,))
