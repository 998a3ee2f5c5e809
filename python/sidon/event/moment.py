"""Who is on the air: told by name, or by the time and the windows of a plan."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from sidon.exceptions import Fault, InvalidProblemError

if TYPE_CHECKING:
    from sidon.plan.document import PlanDocument

__all__ = ["OnAir", "links_on_air"]

OnAir = Iterable[str] | dt.datetime | str | None


def links_on_air(document: PlanDocument, on_air: OnAir) -> set[str] | None:
    """Name the links on the air.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    on_air : iterable of str, datetime or str, optional
        Names, or the local time; a time of day alone where the windows tell the day.

    Returns
    -------
    set of str or None
        None when that is not told.

    Raises
    ------
    InvalidProblemError
        When a text is no time, or the windows tell no day or several.
    """
    if on_air is None:
        return None
    if isinstance(on_air, str):
        on_air = _read(document, on_air)
    if isinstance(on_air, dt.datetime):
        moment = on_air.replace(tzinfo=None)
        open_ = {w.name for w in document.windows if w.start <= moment < w.end}
        return {
            row.link
            for row in document.assignments
            if not row.spare and (not row.windows or open_ & set(row.windows))
        }
    return {str(name) for name in on_air}


def _read(document: PlanDocument, text: str) -> dt.datetime:
    clock = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", text.strip())
    if clock is not None:
        return _of_day(document, dt.time(int(clock[1]), int(clock[2])))
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        remedy = "write local time such as '2031-06-14T20:30', or give a list of links"
        fault = Fault("on_air", f"{text!r} is not a date and time", remedy)
        raise InvalidProblemError([fault]) from None


def _of_day(document: PlanDocument, time: dt.time) -> dt.datetime:
    """Find the one day on which a window is open at this time."""
    found = set()
    for window in document.windows:
        # The first and the last days suffice: two tell of several.
        days = {window.start.date(), window.end.date(), window.start.date() + dt.timedelta(1)}
        moments = (dt.datetime.combine(day, time) for day in days)
        found |= {moment for moment in moments if window.start <= moment < window.end}
    if len(found) == 1:
        return found.pop()
    told = ", ".join(f"'{moment:%Y-%m-%dT%H:%M}'" for moment in sorted(found))
    what = f"windows are open at {time:%H:%M} on {len(found) or 'no'} day"
    what += "s" if found else ""
    remedy = f"give the date, too: {told}" if found else "give date and time"
    raise InvalidProblemError([Fault("on_air", what, remedy)])
