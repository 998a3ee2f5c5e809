"""How long `Plan.alternatives` takes at a large event: 800 links, 12 zones, 3 days, 6 profiles.

Everything about the event is invented. Zones go in pairs that keep separations from each other. The
first call of a process loads code and lays the plan out.

    maturin develop --release && python tests/bench/alternatives.py [LINKS]
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from typing import Any

import sidon

ZONES, DAYS, SEED = 12, 3, 1
CHANNELS = range(21, 49)
OCCUPIED = 11
"""Of 28 channels of 8 MHz: 60 % of 470-694 MHz stay free."""

TIGHT = {"2A-B": "25 kHz", "A+B-C": "25 kHz", "3A-2B": "25 kHz"}
USUAL = {"2A-B": "75 kHz", "A+B-C": "50 kHz", "3A-2B": "25 kHz"}
WIDE = {"2A-B": "100 kHz", "A+B-C": "50 kHz", "3A-2B": "50 kHz"}
PROFILES: dict[str, tuple[list[int], str, dict[str, str]]] = {
    "hand-analogue": ([470, 560], "350 kHz", USUAL),
    "pack-analogue": ([520, 620], "350 kHz", USUAL),
    "hand-digital": ([470, 694], "350 kHz", TIGHT),
    "pack-digital": ([470, 694], "350 kHz", TIGHT),
    "in-ear": ([566, 694], "400 kHz", WIDE),
    "wide-link": ([606, 694], "600 kHz", WIDE),
}


def large_study(links: int, *, seed: int = SEED) -> dict[str, Any]:
    """Return an invented event with this many links."""
    rng = random.Random(seed)
    zones = [f"zone-{i + 1}" for i in range(ZONES)]
    rows = [(zone, day) for zone in range(ZONES) for day in range(DAYS)]
    demand = []
    for at, (zone, day) in enumerate(rows):
        count = links // len(rows) + (at < links % len(rows))
        kinds = [rng.choice(list(PROFILES)) for _ in range(count)]
        demand += [
            {
                "id": f"z{zone + 1}-d{day + 1}-{profile}",
                "count": kinds.count(profile),
                "profile": profile,
                "zone": zones[zone],
                "windows": [f"day-{day + 1}"],
                "priority": rng.choice((1, 2, 5)),
            }
            for profile in PROFILES
            if profile in kinds
        ]
    return {
        "format": "sidon-study/1",
        "name": f"Large event of {links} links (invented)",
        "place": {"name": "Showground (invented)"},
        "availability": {
            "ranges": [[470, 694]],
            "tv_raster": {"first_edge": 470, "width": 8, "first_number": 21, "last_number": 48},
            "occupied": sorted(rng.sample(CHANNELS, OCCUPIED)),
        },
        "profiles": [
            {
                "name": name,
                "ranges": [tuning],
                "raster": "25 kHz",
                "raster_origin": 470,
                "bandwidth": "200 kHz",
                "separation": separation,
                "guards": guards,
            }
            for name, (tuning, separation, guards) in PROFILES.items()
        ],
        "zones": zones,
        "couplings": [
            {
                "zones": [zones[i], zones[j]],
                "degree": "separation" if i // 2 == j // 2 else "none",
            }
            for i in range(ZONES)
            for j in range(i + 1, ZONES)
        ],
        "windows": [
            {
                "name": f"day-{day + 1}",
                "start": f"2031-06-{14 + day}T10:00",
                "end": f"2031-06-{15 + day}T01:00",
            }
            for day in range(DAYS)
        ],
        "demand": demand,
    }


def main() -> None:
    """Plan, then ask for every link in turn."""
    links = int(sys.argv[1]) if len(sys.argv) > 1 else 800
    study = sidon.Study.from_dict(large_study(links))
    began = time.perf_counter()
    plan = study.plan(seed=1, seconds=60)
    print(f"{plan!r} in {time.perf_counter() - began:.2f} s")
    wall, cpu = [], []
    for row in plan.assignments:
        began, spent = time.perf_counter(), time.process_time()
        found = plan.alternatives(row.link)
        wall.append(1e3 * (time.perf_counter() - began))
        cpu.append(1e3 * (time.process_time() - spent))
        if len(wall) == 1:
            print(found.summary())
    print(f"first call {wall[0]:.1f} ms ({cpu[0]:.1f} ms of processor time)")
    for name, times in (("wall", wall[1:]), ("processor", cpu[1:])):
        ordered = sorted(times)
        median, tail = statistics.median(ordered), ordered[int(0.99 * len(ordered))]
        print(f"{name}: median {median:.1f} ms, 99 % within {tail:.1f} ms, most {ordered[-1]:.1f}")


if __name__ == "__main__":
    main()
