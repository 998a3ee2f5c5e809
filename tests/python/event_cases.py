"""Small invented plans, and the plain recount that tests of a living plan compare with."""

from __future__ import annotations

import copy
import random
from typing import Any

import sidon

Fields = dict[str, Any]

FORMS = ("2A-B", "A+B-C", "3A-2B", "2A+B-2C", "A+B+C-D-E", "4A-3B", "5A-4B")
"""Third order to ninth."""


def random_study(seed: int, *, foreign_hz: int | None = None, links: int = 7) -> Fields:
    """Return a crowded study over 3 MHz with random rules; everything in it is invented."""
    rng = random.Random(seed)

    def guards() -> dict[str, str]:
        forms = rng.sample(FORMS, 3)
        return {form: f"{rng.choice((25, 50, 60))} kHz" for form in forms}

    profiles = [
        {
            "name": name,
            "ranges": [[470, 473]],
            "raster": raster,
            "raster_origin": 470,
            "bandwidth": "100 kHz",
            "separation": f"{rng.choice((0, 150, 175, 200))} kHz",
            "guards": guards(),
            "mixes": rng.random() < 0.8,
        }
        for name, raster in (("coarse", "50 kHz"), ("fine", "37.5 kHz"))
    ]
    zones = ["left", "right", "far"]
    windows = [
        {"name": "noon", "start": "2031-05-01T10:00", "end": "2031-05-01T14:00"},
        {"name": "later", "start": "2031-05-01T13:00", "end": "2031-05-01T18:00"},
        {"name": "night", "start": "2031-05-01T18:00", "end": "2031-05-02T01:00"},
    ]
    demand = [
        {
            "ids": [f"link-{i}"],
            "id": f"link-{i}",
            "profile": rng.choice(("coarse", "fine")),
            "zone": rng.choice(zones),
            "windows": rng.choice(([], ["noon"], ["later"], ["noon", "night"])),
            "spares": int(i < 2),
            "priority": rng.choice((1, 2, 5)),
        }
        for i in range(links)
    ]
    couplings = [
        {"zones": pair, "degree": rng.choice(("full", "full", "separation", "none"))}
        for pair in (["left", "right"], ["left", "far"], ["right", "far"])
    ]
    study: Fields = {
        "format": "sidon-study/1",
        "name": f"Random {seed} (invented)",
        "place": {"name": "Nowhere"},
        "availability": {"ranges": [[470, 471.2], [471.7, 473]]},
        "profiles": profiles,
        "zones": zones,
        "couplings": couplings,
        "windows": windows,
        "demand": demand,
    }
    if foreign_hz is not None:
        study["incumbents"] = [
            {
                "name": "visitor",
                "frequency": f"{foreign_hz} Hz",
                "zone": rng.choice(zones),
                "profile": "coarse",
            }
        ]
    return study


def random_plan(seed: int, *, foreign_hz: int | None = None, links: int = 7) -> sidon.Plan:
    """Plan a random study."""
    study = sidon.Study.from_dict(random_study(seed, foreign_hz=foreign_hz, links=links))
    return study.plan(seed=seed, iterations=300)


def moved(plan: sidon.Plan, link: str, hz: int, *, spare: str | None = None) -> sidon.Plan:
    """Return the plan with a link on another frequency, a spare of which it takes over."""
    fields = copy.deepcopy(plan.to_dict())
    fields["assignments"] = [row for row in fields["assignments"] if row["link"] != spare]
    for row in fields["assignments"]:
        if row["link"] == link:
            row["frequency_hz"] = hz
    return sidon.Plan.from_dict(fields)


def widened(plan: sidon.Plan, by_hz: int) -> sidon.Plan:
    """Return the plan with every separation and guard wider."""
    fields = copy.deepcopy(plan.to_dict())
    for profile in fields["profiles"]:
        if profile["separation_hz"]:
            profile["separation_hz"] += by_hz
        profile["guards_hz"] = {form: hz + by_hz for form, hz in profile["guards_hz"].items() if hz}
    return sidon.Plan.from_dict(fields)


def broken_by(plan: sidon.Plan, link: str) -> bool:
    """Tell by the independent check whether a link takes part in breaking a rule."""
    at = [row.link for row in plan.assignments].index(link)
    try:
        plan.check()
    except sidon.CheckError as error:
        return any(at in violation.links for violation in error.violations)
    return False


def places(plan: sidon.Plan, link: str) -> list[int]:
    """List the frequencies a link may use, from the document."""
    row = next(row for row in plan.document.assignments if row.link == link)
    profile = next(p for p in plan.document.profiles if p.name == row.profile)
    return [
        hz
        for low, high in plan.document.availability[row.profile]
        for hz in range(profile.raster_origin_hz, high + 1, profile.raster_hz)
        if hz >= low
    ]
