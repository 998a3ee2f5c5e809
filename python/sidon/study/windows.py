"""Times on the air: durations, margins around a window, and the two nights a year clocks change."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer

from sidon._quantity import refuse

if TYPE_CHECKING:
    from sidon.study.schema import Window

__all__ = ["Minutes", "TimeZone", "clock_fault", "on_air"]

_DURATION = re.compile(r"(?:(\d{1,3}) ?h)? ?(?:(\d{1,4}) ?min)?", re.IGNORECASE)
_LONGEST_MIN = 24 * 60
_REMEDY = "write minutes, or a text such as '30 min' or '1 h 30 min', up to a day"


def _minutes(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool):
        found = value
    else:
        text = value.strip() if isinstance(value, str) else ""
        match = _DURATION.fullmatch(text)
        if not text or match is None:
            refuse(f"{value!r} is not a duration", _REMEDY)
        found = 60 * int(match[1] or 0) + int(match[2] or 0)
    if not 0 <= found <= _LONGEST_MIN:
        refuse(f"{value!r} is not between nothing and a day", _REMEDY)
    return found


def _written(minutes: int) -> str:
    return f"{minutes} min"


Minutes = Annotated[int, BeforeValidator(_minutes), PlainSerializer(_written, return_type=str)]
"""A duration in whole minutes."""


def _known(name: str) -> str:
    from sidon._faults import nearest

    known = sorted(available_timezones())
    if name not in known:
        refuse(f"{name!r} is no time zone", f"{nearest(name, known)}; such as 'Europe/Paris'")
    return name


TimeZone = Annotated[str, Field(strict=True), AfterValidator(_known)]
"""A name of the IANA time zone database."""


def on_air(window: Window, timezone: str | None) -> tuple[dt.datetime, dt.datetime]:
    """Return from when to when a window is on the air, its margin on both sides included.

    Parameters
    ----------
    window : Window
        In local time.
    timezone : str or None
        Where that is; without it no clock is changed.

    Returns
    -------
    (datetime, datetime)
        Local time, without offset. The end is the first minute off the air.

    Notes
    -----
    Local times order as the instants they mean wherever no hour is left out or repeated between
    them; `clock_fault` refuses times in such an hour. So local times may be compared as they are.
    """
    margin = dt.timedelta(minutes=window.margin)
    return _shifted(window.start, -margin, timezone), _shifted(window.end, margin, timezone)


def _shifted(moment: dt.datetime, by: dt.timedelta, timezone: str | None) -> dt.datetime:
    if timezone is None or not by:
        return moment + by
    zone = ZoneInfo(timezone)
    # Across a change of clocks the margin is as long as it says, whatever the clock shows.
    instant = moment.replace(tzinfo=zone).astimezone(dt.UTC) + by
    return instant.astimezone(zone).replace(tzinfo=None, fold=0)


def clock_fault(moment: dt.datetime, timezone: str) -> tuple[str, str] | None:
    """Say what is wrong with a local time where clocks change.

    Parameters
    ----------
    moment : datetime
        Local time.
    timezone : str
        Where.

    Returns
    -------
    (str, str) or None
        What is wrong, and a remedy; None for a time that happens exactly once.

    Examples
    --------
    >>> clock_fault(dt.datetime(2031, 3, 30, 2, 30), "Europe/Paris")[0]
    'it is never 02:30 on 2031-03-30 in Europe/Paris: clocks are put forward'
    """
    zone = ZoneInfo(timezone)
    first, second = (moment.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    if first is None or second is None or first == second:
        return None
    change = "forward" if first < second else "back"
    hours = abs(second - first)
    when = f"{moment:%H:%M} on {moment:%Y-%m-%d} in {timezone}"
    which = "it is never" if first < second else "it is twice"
    remedy = f"write a time at least {_hours(hours)} earlier or later"
    return f"{which} {when}: clocks are put {change}", remedy


def _hours(length: dt.timedelta) -> str:
    minutes = length // dt.timedelta(minutes=1)
    return f"{minutes // 60} h" if minutes % 60 == 0 else f"{minutes} min"
