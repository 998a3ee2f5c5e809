"""A large event for the pictures: twelve stages in a row, three days, many parties; invented."""

from __future__ import annotations

import random
from itertools import pairwise
from typing import Any

_PROFILES = (
    ("hand A", "analogue handheld microphone", 470, 608, "50 kHz"),
    ("pack A", "analogue body pack", 470, 560, "50 kHz"),
    ("hand D", "digital handheld microphone", 520, 694, "25 kHz"),
    ("pack D", "digital body pack", 470, 694, "25 kHz"),
    ("ears A", "in-ear transmitter", 550, 640, "50 kHz"),
    ("ears B", "in-ear transmitter", 600, 694, "50 kHz"),
)
_PARTS = (("noon", "11:00", "17:00"), ("night", "17:00", "23:30"))


def zoned_event(*, zones: int = 12, per_zone: int = 64, seed: int = 1) -> dict[str, Any]:
    """Return a study whose stages share carriers with their neighbours only."""
    draw = random.Random(seed)
    names = [f"stage {n}" for n in range(1, zones + 1)]
    windows = [
        {
            "name": f"day {day} {part}",
            "start": f"2031-07-{day + 3:02}T{a}",
            "end": f"2031-07-{day + 3:02}T{b}",
        }
        for day in (1, 2, 3)
        for part, a, b in _PARTS
    ]
    rows = []
    for zone in names:
        left = per_zone
        while left:
            count = min(left, draw.choice((2, 3, 4, 6)))
            left -= count
            times = draw.sample([w["name"] for w in windows], draw.choice((1, 1, 2)))
            rows.append(
                {
                    "party": f"Act {draw.randint(1, 40)}",
                    "zone": zone,
                    "profile": draw.choice(_PROFILES)[0],
                    "count": count,
                    "windows": times,
                }
            )
    return {
        "format": "sidon-study/1",
        "name": "Twelve stages (invented)",
        "place": {"name": "Fields (invented)"},
        "availability": {
            "ranges": [[470, 694]],
            "tv_raster": {"first_edge": 470, "width": 8, "first_number": 21, "last_number": 48},
            "occupied": sorted(draw.sample(range(21, 49), 11)),
        },
        "profiles": [
            {
                "name": name,
                "kind": kind,
                "ranges": [[low, high]],
                "raster": "25 kHz",
                "bandwidth": "200 kHz",
                "separation": "350 kHz",
                "guards": {"2A-B": guard},
            }
            for name, kind, low, high, guard in _PROFILES
        ],
        "zones": names,
        "default_coupling": "none",
        "couplings": [{"zones": [a, b], "degree": "separation"} for a, b in pairwise(names)],
        "windows": windows,
        "requests": {"rows": rows},
    }
