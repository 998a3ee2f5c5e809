"""What could be given up so that more fits: candidates drawn from the study itself."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sidon.event.explain.rules import kilohertz
from sidon.study.compile import zone_degrees

if TYPE_CHECKING:
    from sidon.study import Study
    from sidon.sweep import Changes

__all__ = ["ON_SITE", "OTHERS", "Relaxation", "relaxations"]

ON_SITE = "yours to accept, once a test on site has shown that it does no harm"
OTHERS = "not yours to decide: only with the word of whoever holds the spectrum, and a scan"

_DEGREES = ("full", "separation", "none")


@dataclass(frozen=True, slots=True)
class Relaxation:
    """One rule less.

    Parameters
    ----------
    text : str
        What is given up, in words.
    changes : mapping
        The same as changes of the study; see `sidon.sweep.changed`.
    condition : str
        Who may decide it.
    price : int
        Cheaper ones come first where two buy the same: 0 for products of high order, and on to
        spectrum that others hold.
    """

    text: str
    changes: Changes
    condition: str
    price: int


def relaxations(
    study: Study, profiles: Collection[str], zones: Collection[str]
) -> list[Relaxation]:
    """List what could be given up to serve links of some profiles in some zones.

    Parameters
    ----------
    study : Study
        The study.
    profiles, zones : collection of str
        Those of the links without a carrier.

    Returns
    -------
    list of Relaxation
        Cheapest first; a relaxation never takes away what fitted before.
    """
    found = [
        *_forms(study, profiles),
        *_couplings(study, zones),
        *_edges(study),
        *_spectrum(study, profiles),
    ]
    return sorted(found, key=lambda relaxation: relaxation.price)


def _forms(study: Study, profiles: Collection[str]) -> Iterator[Relaxation]:
    """Guards on one form: of one profile, and of all that have it."""
    model = study.model
    forms = {form: None for profile in model.profiles for form, hz in profile.guards.items() if hz}
    for form in forms:
        having = [profile for profile in model.profiles if profile.guards.get(form)]
        # Products of high order are weak, those of three carriers weaker than those of two.
        price = 0 if form not in ("2A-B", "A+B-C") else 1 if form == "A+B-C" else 3
        for profile in having:
            if profile.name in profiles:
                distance = kilohertz(profile.guards[form])
                yield Relaxation(
                    f"waive the guard of {profile.name} on {form} ({distance})",
                    {f"profiles.{profile.name}.guards": _but(profile.guards, form)},
                    ON_SITE,
                    price,
                )
        if len(having) > 1:
            changes: dict[str, Any] = {
                f"profiles.{profile.name}.guards": _but(profile.guards, form) for profile in having
            }
            yield Relaxation(f"waive every guard on {form}", changes, ON_SITE, price + 1)


def _but(guards: dict[str, int], form: str) -> dict[str, str]:
    return {name: kilohertz(hz) for name, hz in guards.items() if name != form}


def _couplings(study: Study, zones: Collection[str]) -> Iterator[Relaxation]:
    """Two zones one degree further apart."""
    degrees = zone_degrees(study.model)
    for pair, degree in degrees.items():
        if degree == "none" or not set(pair) & set(zones):
            continue
        less = _DEGREES[_DEGREES.index(degree) + 1]
        rows = [
            {"zones": list(other), "degree": less if other == pair else there}
            for other, there in degrees.items()
        ]
        what = "products" if degree == "full" else "separation"
        yield Relaxation(
            f"waive {what} between {pair[0]} and {pair[1]}", {"couplings": rows}, ON_SITE, 2
        )


def _edges(study: Study) -> Iterator[Relaxation]:
    guard = study.model.availability.edge_guard
    if guard and study.model.availability.occupied:
        yield Relaxation(
            f"go up to the edges of occupied channels ({kilohertz(guard)} nearer)",
            {"availability.edge_guard": "0 Hz"},
            ON_SITE,
            4,
        )


def _spectrum(study: Study, profiles: Collection[str]) -> Iterator[Relaxation]:
    """Occupied channels and exclusions within what the profiles tune."""
    availability = study.model.availability
    tuned = [
        span
        for profile in study.model.profiles
        if profile.name in profiles
        for span in profile.ranges
    ]

    def reached(low: int, high: int) -> bool:
        return any(low < above and below < high for below, above in tuned)

    raster = availability.tv_raster
    for number in sorted(set(availability.occupied)):
        if raster is not None and reached(*raster.channel(number)):
            yield Relaxation(
                f"use channel {number}, should it be off the air after all",
                {"availability.occupied": [n for n in availability.occupied if n != number]},
                OTHERS,
                5,
            )
    written = study.to_dict()["availability"].get("exclusions", [])
    for index, exclusion in enumerate(availability.exclusions):
        if reached(*exclusion.range):
            yield Relaxation(
                f"lift the exclusion of {exclusion.reason}",
                {"availability.exclusions": written[:index] + written[index + 1 :]},
                OTHERS,
                5,
            )
