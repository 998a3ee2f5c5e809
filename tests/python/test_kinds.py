"""A plan serves as many links of one kind as the study of capacity says fit."""

from __future__ import annotations

import pytest
from capacity_cases import question

import sidon


def request(count: int) -> sidon.Study:
    """Ask for so many microphones on one stage, where two free channels are left of five."""
    fields = question()
    del fields["capacity"]
    fields["availability"] |= {
        "ranges": [[470, 500]],
        "tv_raster": {"first_edge": 470, "width": 6, "first_number": 14, "last_number": 18},
        "occupied": [15, 16, 18],
    }
    fields["profiles"][0]["ranges"] = [[470, 500]]
    fields["zones"] = [{"name": "stage"}]
    fields["demand"] = [{"profile": "hand", "zone": "stage", "id": "mic", "count": count}]
    return sidon.Study.from_dict(fields)


@pytest.fixture(scope="module")
def fits() -> int:
    (row,) = request(1).capacity(iterations=6_000, seed=1).rows
    assert row.fits > 10  # two channels hold more than one, and products let them hold less than 18
    return row.fits


@pytest.mark.parametrize("method", ["local-search", "portfolio"])
def test_as_many_as_fit_are_served(fits: int, method: str) -> None:
    plan = request(fits).plan(seed=1, iterations=15_000, method=method)
    assert plan.refused == []
    assert plan.check().hard == 0
    assert len(plan.assignments) == fits


def test_of_more_than_fit_as_many_are_served(fits: int) -> None:
    plan = request(fits + 3).plan(seed=1, iterations=15_000)
    assert len(plan.refused) <= 3


def test_what_cannot_be_served_is_proved() -> None:
    # One channel of 6 MHz holds nine, by an independent exhaustive search.
    link = {"profile": 0, "zone": 0, "domain": 0}
    guards = [{"form": form, "guard_hz": 100_000} for form in ("2A-B", "A+B-C")]
    problem = sidon.Problem(
        profiles=[{"name": "hand", "separation_hz": 350_000, "guards": guards}],
        zones=["stage"],
        domains=[{"frequencies": list(range(470_000_000, 476_000_000, 25_000))}],
        links=[{"id": f"link {i}", **link} for i in range(12)],
    )
    heard: list[sidon.Event] = []
    result = sidon.solve(problem, seed=1, iterations=12_000, progress=heard.append)
    assert (result.refused, result.status, result.stop_reason) == (3, "optimal", "proven")
    assert heard[0].refused >= 3


def test_a_listener_hears_of_every_set_and_may_stop_at_one() -> None:
    # Three free channels of 6 MHz, more links than fit: sets are sought for most of the budget.
    free = [k for k in range(470_000, 506_000, 25) if k // 6_000 % 2 == 0]
    problem = sidon.Problem.simple(
        [k * 1_000 for k in free], count=60, separation=350_000, guards={"2A-B": 1, "A+B-C": 1}
    )
    heard: list[sidon.Event] = []

    def listen(event: sidon.Event) -> bool:
        heard.append(event)
        return event.refused <= 60 - 14

    result = sidon.solve(problem, seed=1, seconds=30, progress=listen)
    assert result.stop_reason == "interrupted"
    assert result.refused <= 60 - 14
    told = result.trace["unserved"][result.trace["kind"] == "improvement"]
    assert result.unserved in told
    wanted = [event for event in heard if event.kind == "improvement" and event.refused <= 60 - 14]
    assert wanted
    assert wanted[0].objective == wanted[0].unserved
