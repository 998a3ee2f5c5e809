"""Isolation between zones: a log-distance model with stated parameters, and what degree follows.

Isolation is the loss between a transmitter in one zone and a receiver in the other:

``loss = reference_loss + 10 * exponent * log10(distance / reference) + walls * wall + body``

less a margin for what a model cannot know (shadowing has a standard deviation of 3 to 8 dB). The
form is the log-distance model of the textbooks (Rappaport, from memory); at an exponent of 2 it is
free space (Friis). The defaults are common practice and lean towards too little isolation: free
space, 5 dB for a wall (20 cm of brick or concrete at 600 MHz by Rec. ITU-R P.2040, extrapolated
below its 1 GHz), 3 dB for the body at a handheld transmitter, 10 dB of margin.

Why a degree follows from it. A foreign carrier no longer matters where it arrives at a level that
a receiver does not notice: ``isolation >= power - unnoticed``, with 10 dBm (10 mW) and -100 dBm
(about the sensitivity of a receiver of 200 kHz with a noise figure of 5 dB) 110 dB: the zones
share nothing, and frequencies may be used again. Products are weaker than the carriers they come
from: two transmitters of 10 mW at 1 m make third-order products some 38 dB below their carriers
(path loss 28 dB, conversion loss 10 dB), at 0.3 m 28 dB. So products fall below notice first, at
an isolation smaller by ``products_below``, 30 dB: from 80 dB on only carriers must keep their
distance. Below that the zones are coordinated in full.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from sidon._quantity import Carrier, refuse

__all__ = [
    "Coordinate",
    "Decibel",
    "Degree",
    "Isolation",
    "Link",
    "Metres",
    "distance_m",
    "free_space_db",
]

Degree = Literal["full", "separation", "none"]

_LIGHT_M_S = 299_792_458

Metres = Annotated[float, Field(ge=0, le=1_000_000, allow_inf_nan=False)]
Coordinate = Annotated[float, Field(ge=-1_000_000, le=1_000_000, allow_inf_nan=False)]
Decibel = Annotated[float, Field(ge=0, le=300, allow_inf_nan=False)]
Level = Annotated[float, Field(ge=-200, le=100, allow_inf_nan=False)]


def free_space_db(distance_m: float, frequency_hz: int) -> float:
    """Return the free-space path loss between isotropic antennas.

    Parameters
    ----------
    distance_m : float
        Metres, above zero.
    frequency_hz : int
        Hertz.

    Returns
    -------
    float
        Decibels: ``20 log10(4 pi d f / c)`` (Friis).

    Examples
    --------
    >>> round(free_space_db(1, 600_000_000), 2)
    28.01
    """
    return 20 * math.log10(4 * math.pi * distance_m * frequency_hz / _LIGHT_M_S)


def distance_m(
    a: tuple[float, float], b: tuple[float, float], *, radius_a: float = 0, radius_b: float = 0
) -> float:
    """Return the distance between the nearest edges of two zones.

    Parameters
    ----------
    a, b : (float, float)
        Where their middles are, in metres.
    radius_a, radius_b : float, default 0
        How far they reach, in metres.

    Returns
    -------
    float
        Metres; 0 when they overlap.
    """
    return max(0.0, math.dist(a, b) - radius_a - radius_b)


@dataclass(frozen=True)
class Link:
    """What lies between two zones.

    Parameters
    ----------
    distance_m : float
        Metres between their nearest edges.
    walls : int
        Walls between.
    """

    distance_m: float
    walls: int = 0


class Isolation(BaseModel):
    """How isolation is computed, and what degree of coupling follows from it.

    Parameters
    ----------
    exponent : float, default 2.0
        Loss grows by ten times this for each tenfold distance: 2 in free space, 1.6 to 2 in sight
        within a room, 2.5 to 3.5 obstructed.
    reference_m : float, default 1.0
        Distance of the reference loss; what is nearer counts as this.
    reference_loss_db : float, optional
        Loss at that distance; free space at ``frequency`` when not given.
    frequency : frequency, optional
        The lowest available one when not given, which is lost least.
    wall_db, body_db, margin_db : float
        Loss of one wall (5), of the body at a transmitter (3), and what is taken off a computed
        isolation (10). Isolation that is given in decibels is taken as it is.
    power_dbm, unnoticed_dbm : float
        Transmitter power (10), and the level a receiver does not notice (-100).
    products_below_db : float, default 30
        How far products are below the carriers they come from.
    separation_from_db, none_from_db : float, optional
        The thresholds themselves, when they are not to follow from the levels.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    exponent: Annotated[float, Field(ge=1, le=8, allow_inf_nan=False)] = 2.0
    reference_m: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] = 1.0
    reference_loss_db: Decibel | None = None
    frequency: Carrier | None = None
    wall_db: Decibel = 5.0
    body_db: Decibel = 3.0
    margin_db: Decibel = 10.0
    power_dbm: Level = 10.0
    unnoticed_dbm: Level = -100.0
    products_below_db: Decibel = 30.0
    separation_from_db: Decibel | None = None
    none_from_db: Decibel | None = None

    @model_validator(mode="after")
    def _ascending(self) -> Self:
        first, second = self.thresholds_db
        if first > second:
            what = f"zones would share nothing from {second:g} dB, before products end at {first:g}"
            refuse(what, "let separation_from_db be no larger than none_from_db")
        return self

    @property
    def thresholds_db(self) -> tuple[float, float]:
        """From where on only carriers matter, and from where on nothing does."""
        none = self.none_from_db
        none = self.power_dbm - self.unnoticed_dbm if none is None else none
        separation = self.separation_from_db
        return (none - self.products_below_db if separation is None else separation), none

    def loss_db(self, link: Link, frequency_hz: int) -> float:
        """Return the loss the model predicts, without margin.

        Parameters
        ----------
        link : Link
            What lies between.
        frequency_hz : int
            Hertz; used unless the model has its own.

        Returns
        -------
        float
            Decibels.

        Examples
        --------
        >>> model = Isolation(exponent=2.5, body_db=0)
        >>> round(model.loss_db(Link(30), 600_000_000), 2)
        64.94
        """
        hertz = self.frequency or frequency_hz
        reference = self.reference_loss_db
        if reference is None:
            reference = free_space_db(self.reference_m, hertz)
        ratio = max(1.0, link.distance_m / self.reference_m)
        spread = 10 * self.exponent * math.log10(ratio)
        return reference + spread + link.walls * self.wall_db + self.body_db

    def isolation_db(self, link: Link, frequency_hz: int) -> float:
        """Return the isolation to count on: the loss less the margin, never below zero.

        Parameters
        ----------
        link : Link
            What lies between.
        frequency_hz : int
            Hertz; used unless the model has its own.

        Returns
        -------
        float
            Decibels, to a tenth.
        """
        return round(max(0.0, self.loss_db(link, frequency_hz) - self.margin_db), 1)

    def degree(self, isolation_db: float) -> Degree:
        """Return the degree of coupling that follows from an isolation.

        Parameters
        ----------
        isolation_db : float
            Decibels.

        Returns
        -------
        str
            ``"none"`` at or above the second threshold, ``"separation"`` at or above the first.

        Examples
        --------
        >>> [Isolation().degree(db) for db in (79.9, 80, 110)]
        ['full', 'separation', 'none']
        """
        separation, none = self.thresholds_db
        if isolation_db >= none:
            return "none"
        return "separation" if isolation_db >= separation else "full"
