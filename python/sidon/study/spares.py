"""Shared spares: coordinated by the strictest rules of whoever may take them over."""

from __future__ import annotations

from collections.abc import Iterator

from sidon.study.schema import Profile, SharedSpares, StudyModel

__all__ = ["with_covers"]


def with_covers(model: StudyModel) -> StudyModel:
    """Give every row of shared spares a profile that is as strict as all it may stand in for.

    Parameters
    ----------
    model : StudyModel
        A study without faults.

    Returns
    -------
    StudyModel
        The same, with a profile more for each row of shared spares that needs one. Applied again
        it changes nothing.

    Notes
    -----
    A carrier with the largest separation and the widest guards of several profiles, that mixes if
    any of them does, may be replaced by a carrier of any of them: no rule around it grows. So the
    promise of the spares holds by construction.
    """
    if not model.spares:
        return model
    profiles = {profile.name: profile for profile in model.profiles}
    rows = []
    for row in model.spares:
        own = profiles[row.profile]
        cover = _cover(own, [own, *_served(model, row, profiles)])
        if cover != own:
            cover = _named(cover, profiles)
            profiles[cover.name] = cover
        rows.append(row.model_copy(update={"profile": cover.name}))
    return model.model_copy(update={"profiles": list(profiles.values()), "spares": rows})


def _served(
    model: StudyModel, row: SharedSpares, profiles: dict[str, Profile]
) -> Iterator[Profile]:
    """Profiles of the links in the zone that can tune a part of what the spare can."""
    own = profiles[row.profile]
    for name in dict.fromkeys(d.profile for d in model.demand if d.zone == row.zone):
        other = profiles[name]
        if any(a <= high and low <= b for a, b in own.ranges for low, high in other.ranges):
            yield other


def _cover(own: Profile, served: list[Profile]) -> Profile:
    forms = dict.fromkeys(form for profile in served for form in profile.guards)
    rules = {
        "separation": max(profile.separation for profile in served),
        "guards": {form: max(p.guards.get(form, 0) for p in served) for form in forms},
        "mixes": any(profile.mixes for profile in served),
    }
    if all(getattr(own, key) == value for key, value in rules.items()):
        return own
    return own.model_copy(update={**rules, "raster_origin": own.origin_hz})


def _named(cover: Profile, profiles: dict[str, Profile]) -> Profile:
    """Name a profile, or find the one that is alike already."""
    number = 1
    while True:
        name = f"{cover.name} (shared spare{'' if number == 1 else f' {number}'})"
        named = cover.model_copy(update={"name": name})
        if profiles.get(name, named) == named:
            return named
        number += 1
