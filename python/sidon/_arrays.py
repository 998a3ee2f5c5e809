"""How values become integer hertz: every column and distance a caller hands over passes here."""

from __future__ import annotations

import math
import operator
from typing import TYPE_CHECKING, Any, ParamSpec, SupportsIndex, TypeAlias, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sidon import _engine
from sidon._forms import canonical_form
from sidon.exceptions import Fault, InvalidProblemError, UnreadableError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

T = TypeVar("T")
P = ParamSpec("P")

Frequencies: TypeAlias = "ArrayLike | Iterable[int | float | str]"
"""A list, a tuple, a numpy array, or a Series of pandas or polars."""

Guards: TypeAlias = "Mapping[Any, Distance]"
"""Guard by product form: its text (``"2A-B"``) or its coefficients (``(2, -1)``).

The key is Any because a mapping's key type is invariant: a union would refuse plain dictionaries.
"""

GuardColumns: TypeAlias = "Mapping[Any, Distance | Frequencies]"
"""The same with one guard for all victims, or one for each."""

Distance: TypeAlias = "int | float | str | np.integer[Any] | np.floating[Any]"
"""A distance in hertz, or a text such as ``"350 kHz"``."""

TOLERANCE_HZ = 1e-3
"""How far a float may lie from an integer: decimal megahertz times 1e6 in float64 stay within."""

SUSPECT_HZ = 1e5
"""A float below this was meant in MHz: no radio microphone works under 100 kHz."""

NO_VALUES: NDArray[np.int64] = np.empty(0, dtype=np.int64)
"""Stands in for a column that could not be read."""

_SHOWN = 20
_LIMIT = 2**63 - 1
_REMEDY = "frequencies are integer hertz; multiply by sidon.MHz or use parse_frequency"


def frequency_column(values: Frequencies, place: str) -> NDArray[np.int64]:
    """One column of frequencies as integer hertz.

    Parameters
    ----------
    values : list, tuple, numpy array, Series
        Integers in hertz; floats within 1e-3 Hz of an integer; texts with a unit.
    place : str
        What the column is called in errors.

    Returns
    -------
    numpy.ndarray
        int64, one-dimensional.

    Raises
    ------
    InvalidProblemError
        Some values are no frequencies; each is listed, up to twenty.
    """
    return _column(values, place, suspect_hz=SUSPECT_HZ)


def integer_column(values: ArrayLike | Frequencies, place: str) -> NDArray[np.int64]:
    """One column of indices, distances or weights as int64; see `frequency_column`."""
    return _column(values, place, suspect_hz=0.0)


def distance(value: object, place: str) -> int:
    """One distance in integer hertz, from a number or a text such as ``"350 kHz"``."""
    try:
        return _number(value, suspect_hz=0.0)
    except _BadValueError as bad:
        raise InvalidProblemError([Fault(place, bad.what, bad.remedy)]) from None


def guard_list(guards: Guards) -> list[tuple[str, int]]:
    """Read guards as pairs of canonical form and hertz; every bad one is reported at once."""
    return _guards(guards, distance, operator.index)


def guard_columns(guards: GuardColumns, count: int | None) -> list[tuple[str, NDArray[np.int64]]]:
    """Read guards as pairs of canonical form and one width per carrier.

    Every bad one is reported at once. Without a `count` lengths are not compared.
    """

    def widths(guard: object, place: str) -> NDArray[np.int64]:
        if guard is None or isinstance(guard, str) or np.isscalar(guard):
            return np.full(count or 1, distance(guard, place), dtype=np.int64)[:count]
        column = integer_column(guard, place)  # type: ignore[arg-type]
        if count is not None and len(column) != count:
            what = f"{len(column)} widths for {count} carriers"
            raise InvalidProblemError([Fault(place, what, "give one per carrier")])
        return column

    return _guards(guards, widths, lambda column: int(column.min(initial=0)))


def _guards(
    guards: Mapping[Any, Any], read: Callable[[object, str], T], least: Callable[[T], int]
) -> list[tuple[str, T]]:
    if not hasattr(guards, "items"):
        what = f"{guards!r} is no mapping"
        raise InvalidProblemError([Fault("guards", what, "write it as {'2A-B': 50 * kHz}")])
    faults = FaultList()
    pairs: dict[str, T] = {}
    for form, guard in guards.items():
        place = f"guards[{form!r}]"
        canonical = faults.take("", canonical_form, form, place)
        width = faults.take(None, read, guard, place)
        if width is not None and least(width) < 0:
            what = f"{least(width)} Hz is negative"
            faults.add(place, what, "give 0 to waive the form, or more")
        if canonical and canonical in pairs:
            faults.add(place, f"the form {canonical} stands twice", "keep one of them")
        if width is not None:
            pairs[canonical] = width
    faults.raise_if_any()
    return list(pairs.items())


class FaultList:
    """Faults of several arguments, to be raised together."""

    def __init__(self) -> None:
        self._faults: list[Fault] = []

    def __bool__(self) -> bool:
        return bool(self._faults)

    def extend(self, faults: Iterable[Fault]) -> None:
        """Note faults."""
        self._faults.extend(faults)

    def add(self, place: str, what: str, remedy: str) -> None:
        """Note a fault."""
        self._faults.append(Fault(place, what, remedy))

    def take(self, otherwise: T, read: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Return what `read` returns; if it finds faults, note them and return `otherwise`."""
        try:
            return read(*args, **kwargs)
        except InvalidProblemError as error:
            self._faults.extend(error.faults)
            return otherwise

    def raise_if_any(self) -> None:
        """Raise with all faults noted."""
        if self._faults:
            raise InvalidProblemError(self._faults)


class _BadValueError(Exception):
    """One value that is no frequency."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(what, remedy)


def _number(value: object, *, suspect_hz: float) -> int:
    if isinstance(value, str):
        try:
            return _engine.parse_frequency(value)
        except UnreadableError as error:
            what = f"{value!r}: {error.why}"
            raise _BadValueError(what, error.remedy) from None
    if isinstance(value, bool | np.bool_):
        what = f"{value} is a truth value"
        raise _BadValueError(what, _REMEDY)
    if isinstance(value, float | np.floating):
        number = float(value)
        if not math.isfinite(number):
            what = f"{number} is not a number of hertz"
            raise _BadValueError(what, "leave missing values out before the call")
        whole = round(number)
        if abs(number - whole) > TOLERANCE_HZ or 0 < abs(number) < suspect_hz:
            what = f"{number!r} is a float that looks like MHz, not hertz"
            raise _BadValueError(what, _REMEDY)
    elif isinstance(value, SupportsIndex):
        whole = operator.index(value)
    else:
        what = f"{value!r} is a {type(value).__name__}, not a number"
        raise _BadValueError(what, _REMEDY)
    if abs(whole) > _LIMIT:
        what = f"{whole} is beyond 64-bit integers"
        raise _BadValueError(what, "give hertz; no radio frequency is that high")
    return whole


def _column(values: object, place: str, *, suspect_hz: float) -> NDArray[np.int64]:
    array = _as_array(values, place)
    if array.dtype.kind == "i" or array.size == 0:
        return np.ascontiguousarray(array, dtype=np.int64)
    if array.dtype.kind == "u" and int(array.max()) <= _LIMIT:
        return array.astype(np.int64)
    if array.dtype.kind == "f":
        whole: NDArray[np.float64] = np.rint(array)
        with np.errstate(invalid="ignore"):  # NaN and infinities are refused, not computed with
            good = np.abs(array - whole) <= TOLERANCE_HZ
        magnitude = np.abs(array)
        good &= (magnitude >= suspect_hz) | (array == 0)
        good &= magnitude < float(_LIMIT)
        if good.all():
            return whole.astype(np.int64)
    elif array.dtype.kind not in "ubOUT":
        what = f"dtype {array.dtype} holds no frequencies"
        raise InvalidProblemError([Fault(place, what, _REMEDY)])
    return _one_by_one(array.tolist(), place, suspect_hz=suspect_hz)


def _one_by_one(values: list[object], place: str, *, suspect_hz: float) -> NDArray[np.int64]:
    faults: list[Fault] = []
    hertz: list[int] = []
    for i, value in enumerate(values):
        try:
            hertz.append(_number(value, suspect_hz=suspect_hz))
        except _BadValueError as bad:
            faults.append(Fault(f"{place}[{i}]", bad.what, bad.remedy))
    if faults:
        if len(faults) > _SHOWN:
            more = Fault(place, f"{len(faults) - _SHOWN} more values are bad", "see those above")
            faults = [*faults[:_SHOWN], more]
        raise InvalidProblemError(faults)
    return np.array(hertz, dtype=np.int64)


def _as_array(values: object, place: str) -> NDArray[Any]:
    remedy = "give a list, a tuple, a numpy array or a Series of frequencies"
    if isinstance(values, str | bytes | bytearray) or np.isscalar(values):
        raise InvalidProblemError([Fault(place, f"{values!r} is a single value", remedy)])
    if np.ma.is_masked(values):
        raise InvalidProblemError([Fault(place, "some values are masked", "call .compressed()")])
    if hasattr(values, "to_numpy"):  # pandas and polars
        array = np.asarray(values.to_numpy())
    elif isinstance(values, np.ndarray):
        array = values
    else:
        try:
            listed = list(values)  # type: ignore[call-overload]
        except TypeError:
            what = f"a {type(values).__name__} is no column"
            raise InvalidProblemError([Fault(place, what, remedy)]) from None
        array = _from_list(listed)
    if array.ndim != 1:
        what = f"an array of {array.ndim} dimensions"
        raise InvalidProblemError([Fault(place, what, "give one dimension; see numpy.ravel")])
    return array


def _from_list(listed: list[object]) -> NDArray[Any]:
    if any(isinstance(value, bool | np.bool_) for value in listed):
        return _objects(listed)
    if all(isinstance(value, int | np.integer) for value in listed):
        try:
            return np.array(listed, dtype=np.int64)
        except OverflowError:
            return _objects(listed)
    if all(isinstance(value, float | np.floating) for value in listed):
        return np.array(listed, dtype=np.float64)
    # One kind for all would turn integers into floats, and numbers beside a text into texts.
    return _objects(listed)


def _objects(listed: list[object]) -> NDArray[Any]:
    array = np.empty(len(listed), dtype=object)
    for i, value in enumerate(listed):  # assigned whole, numpy would spread nested lists out
        array[i] = value
    return array
