"""The largest compatible set through Python."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

import sidon
from sidon import MHz, kHz

GOLOMB = {"2A-B": 1, "A+B-C": 1}


def test_one_channel_holds_nine() -> None:
    # 25 kHz steps, 350 kHz apart, guards 100 kHz: by an independent exhaustive search.
    found = sidon.largest_set(
        np.arange(470 * MHz, 476 * MHz, 25 * kHz),
        separation="350 kHz",
        guards={"2A-B": 100 * kHz, "A+B-C": "100 kHz"},
        iterations=2_000,
    )
    assert (found.size, found.upper_bound, found.status) == (9, 9, "optimal")
    assert found.stop_reason == "proven"
    counts = sidon.hit_counts(found.frequencies, guards={"2A-B": 100 * kHz, "A+B-C": 100 * kHz})
    assert counts["2A-B"].sum() == counts["A+B-C"].sum() == 0
    assert np.diff(found.frequencies).min() >= 350 * kHz
    assert (np.diff(found.trace["upper_bound"]) <= 0).all()


def test_the_ruler_bound_is_the_published_one() -> None:
    # OEIS A003022: eight marks need length 34.
    assert sidon.largest_set(range(35), separation=1, guards=GOLOMB, iterations=500).size == 8
    tight = sidon.largest_set(range(34), separation=1, guards=GOLOMB, iterations=500)
    assert (tight.size, tight.upper_bound, tight.status) == (7, 7, "optimal")


def test_threads_do_not_change_the_set() -> None:
    sets = [
        sidon.largest_set(
            range(500), separation=4, guards=GOLOMB, seed=5, iterations=6_000, threads=threads
        ).frequencies
        for threads in (1, 2, 4)
    ]
    assert sets[0].tolist() == sets[1].tolist() == sets[2].tolist()


def test_a_callback_stops_with_the_best_so_far() -> None:
    events: list[sidon.Event] = []

    def stop(event: sidon.Event) -> bool:
        events.append(event)
        return True

    found = sidon.largest_set(
        range(5_000), separation=3, guards={"2A-B": 2, "A+B-C": 2}, seconds=600, progress=stop
    )
    assert found.stop_reason == "interrupted"
    assert found.size > 10
    assert events


def test_the_answer_pickles_and_shows() -> None:
    found = sidon.largest_set(range(20), separation=1, guards=GOLOMB, iterations=100)
    again = pickle.loads(pickle.dumps(found))
    assert again.frequencies.tolist() == found.frequencies.tolist()
    assert "optimal" in repr(found)
    assert "optimal" in found._repr_html_()
    with pytest.raises(ValueError, match="read-only"):
        found.frequencies[0] = 1


def test_every_fault_is_reported_at_once() -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.largest_set([1, -2], separation="many", guards={"2A+B": 1})
    places = [fault.place for fault in caught.value.faults]
    assert "separation" in places
    assert any(place.startswith("guards") for place in places)


def test_a_proof_out_of_reach_does_not_outlast_an_iteration_budget() -> None:
    # Without a separation the rulers' proof has no say, and exhaustion would take hours.
    found = sidon.largest_set(
        range(240), separation=0, guards={"2A-B": 4, "A+B-C": 4}, iterations=1
    )
    assert found.size <= found.upper_bound
    assert found.status == "feasible"


def test_a_callback_is_asked_also_while_nothing_is_found() -> None:
    # The best set is there within a moment; what follows is a search in vain.
    candidates = range(470_000_000, 500_000_000, 25_000)
    guards = {"2A-B": 100_000, "A+B-C": 100_000}
    result = sidon.largest_set(
        candidates,
        separation=350_000,
        guards=guards,
        seconds=30,
        progress=lambda event: event.time_s > 1,
    )
    assert result.stop_reason == "interrupted"
    assert result.size >= 16
