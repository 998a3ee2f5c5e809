"""What the tests of capacity share: small questions, and a recount of their lists to tune."""

from __future__ import annotations

from typing import Any

import sidon

Fields = dict[str, Any]


def question(**changes: Any) -> Fields:
    """Ask for five microphones in one free TV channel of three; all of it invented."""
    return {
        "format": "sidon-study/1",
        "name": "One channel (invented)",
        "place": {"name": "Hall (invented)"},
        "availability": {
            "ranges": [[470, 488]],
            "tv_raster": {"first_edge": 470, "width": 6, "first_number": 14, "last_number": 16},
            "occupied": [15, 16],
            "source": "invented",
            "as_of": "2031-05-01",
        },
        "profiles": [
            {
                "name": "hand",
                "kind": "microphone",
                "ranges": [[470, 488]],
                "raster": "25 kHz",
                "bandwidth": "200 kHz",
                "separation": "350 kHz",
                "guards": {"2A-B": "100 kHz", "A+B-C": "100 kHz"},
            }
        ],
        "capacity": {"ask": 5, "spares": 1, "growth": 1},
        **changes,
    }


def answer(fields: Fields, **options: Any) -> sidon.Capacity:
    """Answer a question within a small budget that does not depend on the machine."""
    return sidon.Study.from_dict(fields).capacity(**{"iterations": 600, **options})


def broken_rules(
    frequencies: tuple[int, ...], separation: int, guards: dict[str, int], *, foreign: Any = ()
) -> int:
    """Recount the rules a list breaks, beside foreign carriers (hertz, separation, guards)."""
    profiles = [{"name": "own", "separation_hz": separation, "guards": _listed(guards)}]
    links = [{"id": str(i), "profile": 0, "zone": 0, "domain": 0} for i in range(len(frequencies))]
    domains: list[Any] = [sorted(frequencies)]
    for hz, distance, others in foreign:
        links.append(
            {"id": f"foreign {hz}", "profile": len(profiles), "zone": 0, "domain": len(domains)}
        )
        profiles.append(
            {"name": f"foreign {hz}", "separation_hz": distance, "guards": _listed(others)}
        )
        domains.append([hz])
    problem = sidon.Problem(profiles=profiles, zones=["air"], domains=domains, links=links)
    try:
        return sidon.check(problem, [*frequencies, *(hz for hz, *_ in foreign)]).hard
    except sidon.CheckError as error:
        return error.report.hard


def _listed(guards: dict[str, int]) -> list[dict[str, Any]]:
    return [{"form": form, "guard_hz": hz} for form, hz in guards.items()]
