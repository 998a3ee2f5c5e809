"""What can happen to a plan that is on the air: one plain value for each kind of change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from sidon._arrays import Distance, Guards

__all__ = [
    "Arrive",
    "Block",
    "Change",
    "Channel",
    "Foreign",
    "Hit",
    "Leave",
    "Rules",
    "Swap",
    "Unlock",
]


@dataclass(frozen=True, slots=True)
class Block:
    """A range of spectrum can no longer be used by anyone.

    Parameters
    ----------
    low, high : int or str
        Its edges, in hertz or as a text such as ``"518 MHz"``; a carrier keeps half its bandwidth
        outside.
    reason : str, default "on the air"
        Who uses it.
    edge_guard : int or str, optional
        Kept free on both sides besides, 0 for none; what the plan keeps from occupied channels
        when not given.
    """

    low: Distance
    high: Distance
    reason: str = "on the air"
    edge_guard: Distance | None = None


@dataclass(frozen=True, slots=True)
class Channel:
    """A TV channel comes on the air.

    Parameters
    ----------
    number : int
        As the plan counts them: its occupied channels tell where the others lie, and its ranges
        which there are. For a plan that lists none, use `Block`.
    """

    number: int


@dataclass(frozen=True, slots=True)
class Hit:
    """A link is interfered with where it stands.

    Parameters
    ----------
    link : str
        Its name.
    everyone : bool, default True
        Whether all links that share its air and time must keep away from there: a foreign carrier
        is then noted in the plan. Else the link alone avoids the spot, in this repair.
    width : int or str, optional
        How far to keep away; the separation of its profile when not given.
    """

    link: str
    everyone: bool = True
    width: Distance | None = None


@dataclass(frozen=True, slots=True)
class Arrive:
    """Links arrive.

    Parameters
    ----------
    profile, zone : str
        What they are and where, as the plan names them.
    count : int, default 1
        How many.
    windows : sequence of str, default ()
        When they are on the air; always without.
    priority : int, default 1
        What each counts.
    name : str, optional
        Links are named ``name-1`` and on; after the profile when not given.
    party : str, optional
        Whom they belong to.
    """

    profile: str
    zone: str
    count: int = 1
    windows: Sequence[str] = ()
    priority: int = 1
    name: str | None = None
    party: str | None = None


@dataclass(frozen=True, slots=True)
class Unlock:
    """Locked links may move from now on.

    Parameters
    ----------
    links : str or sequence of str
        Their names.
    """

    links: str | Sequence[str]


@dataclass(frozen=True, slots=True)
class Leave:
    """Links leave the air; their frequencies become free.

    Parameters
    ----------
    links : str or sequence of str
        Their names; locked ones and spares too.
    """

    links: str | Sequence[str]


@dataclass(frozen=True, slots=True)
class Swap:
    """Links get other equipment.

    Parameters
    ----------
    links : str or sequence of str
        Their names.
    profile : str
        The profile of the plan they have from now on.
    """

    links: str | Sequence[str]
    profile: str


@dataclass(frozen=True, slots=True)
class Rules:
    """A profile turns out to tolerate more or less.

    Parameters
    ----------
    profile : str
        Its name.
    separation : int or str, optional
        As it is from now on; as before when not given.
    guards : mapping, optional
        Guards by form as they are from now on, 0 to waive one; other forms stay as they are.
    mixes : bool, optional
        Whether its transmitters make products.
    """

    profile: str
    separation: Distance | None = None
    guards: Guards | None = None
    mixes: bool | None = None


@dataclass(frozen=True, slots=True)
class Foreign:
    """A foreign carrier appears; the plan must keep clear of it.

    Parameters
    ----------
    name : str
        What it is called.
    frequency : int or str
        In hertz, or as a text such as ``"518.125 MHz"``.
    zone, profile : str
        Where it is, and which profile of the plan it is like.
    windows : sequence of str, default ()
        When it is on the air; always without.
    """

    name: str
    frequency: Distance
    zone: str
    profile: str
    windows: Sequence[str] = ()


Change: TypeAlias = Block | Channel | Hit | Arrive | Leave | Swap | Rules | Foreign | Unlock
