"""What is left of the spectrum after occupied channels, their guard, and exclusions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidon.study.availability import Block, blocks, free_ranges, tuning, why_not, why_nothing
from sidon.study.schema import Availability, Profile, TvRaster

MHZ = 1_000_000

# Channel edges as published: US 47 CFR 73.603 (14: 470-476, 36: 602-608 MHz); Region 1 at 8 MHz
# under GE06 (21: 470-478, 48: 686-694); Japan at 6 MHz (13: 470-476, 52: 704-710); Australia at
# 7 MHz (28: 526-533, 51: 687-694).
PUBLISHED = [
    ((470, 6, 14, 36), {14: (470, 476), 36: (602, 608)}),
    ((470, 8, 21, 48), {21: (470, 478), 28: (526, 534), 38: (606, 614), 48: (686, 694)}),
    ((470, 6, 13, 52), {13: (470, 476), 36: (608, 614), 52: (704, 710)}),
    ((526, 7, 28, 51), {28: (526, 533), 32: (554, 561), 44: (638, 645), 51: (687, 694)}),
]


def raster(edge: int, width: int, first: int, last: int) -> TvRaster:
    return TvRaster(first_edge=edge, width=width, first_number=first, last_number=last)


def profile(**fields: object) -> Profile:
    return Profile.model_validate(
        {
            "name": "hand",
            "ranges": [[470, 608]],
            "raster": "25 kHz",
            "bandwidth": "200 kHz",
            "separation": "350 kHz",
            **fields,
        }
    )


@pytest.mark.parametrize(("fields", "channels"), PUBLISHED)
def test_channels_lie_where_published(
    fields: tuple[int, int, int, int], channels: dict[int, tuple[int, int]]
) -> None:
    table = raster(*fields)
    for number, (low, high) in channels.items():
        assert table.channel(number) == (low * MHZ, high * MHZ)


def test_occupied_channels_take_their_guard_with_them() -> None:
    availability = Availability.model_validate(
        {
            "ranges": [(470, 488)],
            "tv_raster": raster(470, 6, 14, 36),
            "occupied": [15],
            "edge_guard": 0.5,
        }
    )
    assert blocks(availability) == [Block(475_500_000, 482_500_000, "occupied channel 15")]
    assert free_ranges(availability) == [(470_000_000, 475_500_000), (482_500_000, 488_000_000)]


def test_a_carrier_keeps_half_its_bandwidth_inside() -> None:
    where = tuning(profile(), [(470 * MHZ, 476 * MHZ)])
    assert where.ranges_hz == ((470_100_000, 475_900_000),)
    assert where.size == len(where.candidates_hz()) == 233  # 5,800 kHz in steps of 25, both ends


def test_ranges_that_meet_are_one() -> None:
    availability = Availability(ranges=[(476, 482), (470, 476)])
    assert free_ranges(availability) == [(470 * MHZ, 482 * MHZ)]
    assert 476 * MHZ in tuning(profile(), free_ranges(availability))


def test_the_raster_starts_at_the_lowest_tuning_edge_unless_told() -> None:
    # 863.1, 863.7, 864.1 and 864.9 MHz: the UK set of four, on a raster of 200 kHz from 863.1.
    uhf = profile(ranges=[[863.1, 864.9]], raster="200 kHz", separation="350 kHz")
    where = tuning(uhf, [(863 * MHZ, 865 * MHZ)])
    assert all(hz in where for hz in (863_100_000, 863_700_000, 864_100_000, 864_900_000))
    shifted = profile(ranges=[[863.1, 864.9]], raster="200 kHz", raster_origin="863 MHz")
    assert tuning(shifted, [(863 * MHZ, 865 * MHZ)]).candidates_hz()[0] == 863_200_000


spans = st.tuples(st.integers(0, 60), st.integers(1, 20)).map(lambda t: (t[0], t[0] + t[1]))


@given(
    ranges=st.lists(spans, min_size=1, max_size=3),
    taken=st.lists(spans, max_size=4),
    tuned=st.lists(spans, min_size=1, max_size=2),
    half=st.integers(0, 3),
    step=st.integers(1, 4),
)
def test_candidates_are_those_a_plain_search_finds(
    ranges: list[tuple[int, int]],
    taken: list[tuple[int, int]],
    tuned: list[tuple[int, int]],
    half: int,
    step: int,
) -> None:
    def mhz(pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
        return [(low + 470, high + 470) for low, high in pairs]

    availability = Availability.model_validate(
        {
            "ranges": mhz(ranges),
            "exclusions": [{"range": pair, "reason": "taken"} for pair in mhz(taken)],
        }
    )
    unit = profile(ranges=mhz(tuned), raster=step, bandwidth=2 * half)
    found = tuning(unit, free_ranges(availability)).candidates_hz()

    def usable(slice_low: int) -> bool:
        """Whether the megahertz above this edge is available."""
        inside = any(low <= slice_low < high for low, high in ranges)
        return inside and not any(low <= slice_low < high for low, high in taken)

    origin = min(low for low, _ in tuned)
    expected = [
        (hz + 470) * MHZ
        for hz in range(90)
        if any(low <= hz <= high for low, high in tuned)
        and (hz - origin) % step == 0
        and (
            all(usable(edge) for edge in range(hz - half, hz + half))
            if half
            else usable(hz) or usable(hz - 1)
        )
    ]
    assert found == expected


def test_says_what_ate_a_tuning_range() -> None:
    availability = Availability.model_validate(
        {
            "ranges": [[470, 608]],
            "tv_raster": {"first_edge": 470, "width": 6, "first_number": 14, "last_number": 36},
            "occupied": [22, 23, 30],
            "exclusions": [{"range": [530, 532], "reason": "beacon"}],
        }
    )
    why = why_nothing(profile(ranges=[[518, 532]]), availability)
    assert "occupied channel 22 (518.000-524.000 MHz)" in why
    assert "occupied channel 23" in why
    assert "'beacon' (530.000-532.000 MHz)" in why
    assert "30" not in why.replace("530", "")
    assert "outside the available" in why_nothing(profile(ranges=[[700, 710]]), availability)


@pytest.mark.parametrize(
    ("mhz", "why"),
    [
        (700_000_000, "outside the tuning range"),
        (470_110_000, "points here are 470.100 and 470.125 MHz"),
        (475_950_000, "reaches into occupied channel 15"),
        (470_050_000, "outside the available ranges"),
    ],
)
def test_says_why_a_frequency_is_no_candidate(mhz: int, why: str) -> None:
    availability = Availability(
        ranges=[(470, 608)], tv_raster=raster(470, 6, 14, 36), occupied=[15]
    )
    assert why in why_not(mhz, profile(), availability)
