"""Foreign carriers between two steps of the rasters of coupled rooms: no hit goes uncounted."""

from __future__ import annotations

import pytest
from event_cases import random_study

import sidon


@pytest.mark.parametrize("first", range(0, 200, 20))
def test_no_hit_hides_behind_a_carrier_between_two_steps(first: int) -> None:
    # Rooms overlap, and so do their groups: what one counts twice another must take back alike.
    for seed in range(first, first + 20):
        foreign_hz = 471_000_000 + 12_500 * (seed % 3 + 1)
        study = sidon.Study.from_dict(random_study(seed, foreign_hz=foreign_hz, links=5))
        problem = study.problem()
        result = sidon.solve(problem, seed=seed, iterations=300)
        assert result.hard == 0, seed
        assert sidon.check(problem, result).hard == 0
