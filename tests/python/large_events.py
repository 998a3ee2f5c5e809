"""Seeded large events: many zones, days and hands. Invented throughout; no real site or product.

What makes them feasible in principle: a zone holds 40 to 90 links, of which a sixth is on the air
on every day and the rest on one of three; one boundary in four between neighbouring zones is full
coordination, a large zone beside a small one, the rest is separation only, and zones further apart
are isolated. So a victim hears the products of some forty to sixty carriers at a time, not those of
the whole site, and two in five links are guarded against A+B-C.
"""

from __future__ import annotations

import random
from itertools import pairwise
from typing import Any

import sidon
from sidon import MHz, kHz

__all__ = ["large_event", "large_problem"]

STEP_HZ = 25 * kHz
BAND = (470, 694)
CHANNEL_MHZ = 8
FREE_SHARE = 0.6
DAYS = 3
ALWAYS_SHARE = 1 / 6
DAY_MIN = 24 * 60
LINKS_PER_ZONE = 67

PROFILES: list[dict[str, Any]] = [
    # Name, separation, guards (third order full, fifth order two-tone for some), mixes, share.
    {"name": "digital", "separation": 350, "guards": {"2A-B": 50}, "mixes": True, "share": 30},
    {
        "name": "digital dense",
        "separation": 200,
        "guards": {"2A-B": 25},
        "mixes": False,
        "share": 26,
    },
    {
        "name": "hand-held",
        "separation": 350,
        "guards": {"2A-B": 75, "A+B-C": 25},
        "mixes": True,
        "share": 14,
    },
    {
        "name": "body-worn",
        "separation": 400,
        "guards": {"2A-B": 75, "A+B-C": 25, "3A-2B": 25},
        "mixes": True,
        "share": 12,
    },
    {
        "name": "in-ear",
        "separation": 500,
        "guards": {"2A-B": 75, "A+B-C": 25, "3A-2B": 25},
        "mixes": True,
        "share": 14,
    },
    {
        "name": "talkback",
        "separation": 300,
        "guards": {"2A-B": 50},
        "mixes": True,
        "share": 4,
    },
]
IN_EAR = 4
IN_EAR_MHZ = 48


def large_event(
    links: int = 800,
    *,
    seed: int = 0,
    zones: int | None = None,
    step_hz: int = STEP_HZ,
    in_ear_mhz: int = IN_EAR_MHZ,
) -> dict[str, Any]:
    """Return the parts of a problem, as `sidon.Problem` takes them.

    Parameters
    ----------
    links : int
        How many links in all; the last fortieth of them are spares.
    seed : int
        Of the free channels, the demand of the zones and the windows.
    zones : int, optional
        One for 67 links without, so 12 for 800.
    step_hz : int
        The raster.
    in_ear_mhz : int
        How much of the free spectrum in-ears can tune. With little of it not all can be served.
    """
    rng = random.Random(seed)
    count = zones if zones is not None else max(1, round(links / LINKS_PER_ZONE))
    sizes = _sizes(links, count, rng)
    spare_from = links - links // 40
    made: list[dict[str, Any]] = []
    for zone, size in enumerate(sizes):
        for _ in range(size):
            profile = rng.choices(range(len(PROFILES)), [p["share"] for p in PROFILES])[0]
            day = None if rng.random() < ALWAYS_SHARE else rng.randrange(DAYS)
            spare = len(made) >= spare_from
            link = {
                "id": f"{'spare' if spare else 'link'} {len(made) + 1}",
                "profile": profile,
                "zone": zone,
                "domain": int(profile == IN_EAR),
                "priority": 1 if spare else rng.choice([20, 20, 20, 40, 60]),
            }
            if day is not None:
                link["windows"] = [{"start": day * DAY_MIN + 600, "end": (day + 1) * DAY_MIN + 60}]
            made.append(link)
    free = _free(rng)
    in_ear = _lowest(free, in_ear_mhz)
    return {
        "profiles": [_profile(p) for p in PROFILES],
        "zones": [f"zone {i + 1}" for i in range(count)],
        "couplings": _couplings(sizes),
        "domains": [_raster(free, step_hz), _raster(in_ear, step_hz)],
        "links": made,
    }


def large_problem(links: int = 800, **options: Any) -> sidon.Problem:
    """Return the problem; see `large_event`."""
    return sidon.Problem(**large_event(links, **options))


def _sizes(links: int, count: int, rng: random.Random) -> list[int]:
    """Split the links over zones, large and small ones in turn."""
    weights = [(88 if i % 2 == 0 else 46) + rng.randint(-4, 4) for i in range(count)]
    total = sum(weights)
    sizes = [links * w // total for w in weights]
    for i in range(links - sum(sizes)):
        sizes[i % count] += 1
    return sizes


def _couplings(sizes: list[int]) -> list[dict[str, Any]]:
    """Couple neighbours along the site: one pair in four in full, the rest by separation only."""
    couplings = []
    for a, b in pairwise(range(len(sizes))):
        couplings.append({"a": a, "b": b, "degree": "full" if a % 4 == 0 else "separation"})
    return couplings


def _free(rng: random.Random) -> list[tuple[int, int]]:
    low, high = BAND
    channels = range(low, high, CHANNEL_MHZ)
    kept = sorted(rng.sample(channels, round(len(channels) * FREE_SHARE)))
    merged: list[tuple[int, int]] = []
    for channel in kept:
        if merged and merged[-1][1] == channel:
            merged[-1] = (merged[-1][0], channel + CHANNEL_MHZ)
        else:
            merged.append((channel, channel + CHANNEL_MHZ))
    return merged


def _lowest(free: list[tuple[int, int]], width: int) -> list[tuple[int, int]]:
    """Take the lowest free channels up to a width in MHz: in-ears tune there only."""
    taken: list[tuple[int, int]] = []
    for low, high in free:
        room = width - sum(b - a for a, b in taken)
        if room <= 0:
            break
        taken.append((low, min(high, low + room)))
    return taken


def _raster(ranges: list[tuple[int, int]], step_hz: int) -> dict[str, Any]:
    # A channel's upper edge is the next one's lower edge: not a candidate of this one.
    edges = [[low * MHz, high * MHz - step_hz] for low, high in ranges]
    return {"raster": {"ranges_hz": edges, "step_hz": step_hz, "origin_hz": 0}}


def _profile(parts: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": parts["name"],
        "separation_hz": parts["separation"] * kHz,
        "guards": [
            {"form": form, "guard_hz": guard * kHz} for form, guard in parts["guards"].items()
        ],
        "mixes": parts["mixes"],
    }
