"""Options of reading a scan, checked before any file is opened, so that none blames the file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sidon._arrays import FaultList
from sidon.exceptions import Fault, InvalidProblemError
from sidon.spectrum.scan.about import About, Facts, facts
from sidon.spectrum.scan.units import frequency_factor, level_unit

__all__ = ["checked", "follows_from", "sound_options"]


def checked(
    about: Mapping[str, Any],
    *,
    delimiter: str | None = None,
    decimal: str | None = None,
    frequency_unit: str | None = None,
    level_unit: str | None = None,
) -> Facts:
    """Check all that can be checked without the table.

    Parameters
    ----------
    about : mapping
        See `About`.
    delimiter, decimal, frequency_unit, level_unit : str, optional
        As for `Scan.from_file`.

    Returns
    -------
    Facts
        What is known of the scan.

    Raises
    ------
    TypeError
        An option is not known.
    InvalidProblemError
        A value is out of range; every fault is listed.
    """
    faults = FaultList()
    if delimiter is not None and len(str(delimiter)) != 1:
        remedy = "give one character, such as ';'; a blank stands for any white space"
        faults.add("delimiter", f"{delimiter!r} is not one character", remedy)
    if decimal not in (None, ".", ","):
        faults.add("decimal", f"{decimal!r} is no decimal mark", "use '.' or ','")
    elif decimal is not None and decimal == delimiter:
        what = f"{decimal!r} cannot part cells and mark decimals"
        faults.add("delimiter", what, "name the one that parts cells")
    if frequency_unit is not None:
        faults.take(1, frequency_factor, frequency_unit, "frequency_unit")
    if level_unit is not None:
        faults.take("", _level_unit, level_unit, "level_unit")
    found = faults.take(Facts(), facts, about)
    faults.raise_if_any()
    return found


_level_unit = level_unit
_TABLE = ("delimiter", "decimal", "frequency_unit", "level_unit")


def sound_options(options: Mapping[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
    """Leave out the options that hold faults, so that files can be judged beside them.

    Parameters
    ----------
    options : mapping
        Any of `Scan.from_file`.

    Returns
    -------
    options : dict
        The sound ones.
    faults : list of Fault
        What is wrong with the others; the place of each is the name of its option.
    """
    about = {key: options[key] for key in About.__annotations__ if key in options}
    table = {key: options[key] for key in _TABLE if key in options}
    try:
        checked(about, **table)
    except InvalidProblemError as error:
        bad = {fault.place for fault in error.faults}
        return {key: value for key, value in options.items() if key not in bad}, list(error.faults)
    return dict(options), []


def follows_from(fault: Fault, bad: set[str]) -> bool:
    """Tell whether a fault of a file may come of an option that was left out for its faults.

    Parameters
    ----------
    fault : Fault
        Of a file.
    bad : set of str
        Names of the options that were left out.

    Returns
    -------
    bool
        Whether it is better not reported.
    """
    causes = {
        "frequency (": {"frequency_unit", "frequency", "delimiter", "decimal"},
        "level (": {"level_unit", "level", "delimiter", "decimal"},
        "level_unit": {"level_unit", "resolution_bandwidth"},
    }
    return any(fault.place.startswith(head) and of & bad for head, of in causes.items())
