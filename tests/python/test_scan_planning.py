"""What scans mean for a plan: exclusions, costs, coverage, comparison with tables, merging."""

from __future__ import annotations

import datetime as dt
import pickle
import tomllib

import numpy as np
import pytest

import sidon
from sidon import MergedScan, MHz, Scan, kHz
from sidon.demo import study_text
from sidon.spectrum.scan import ScanExclusion, demo_scan, demo_text, tv_channels
from sidon.spectrum.scan.planning import exclusions_text

CHANNELS = tv_channels("470 MHz", "6 MHz", 14, 36)


def quiet(low: int, high: int, *, step: int = 25 * kHz, seed: int = 1, name: str = "") -> Scan:
    """Noise of ten sweeps with nothing in it; invented."""
    return busy(low, high, {}, step=step, seed=seed, name=name)


def busy(
    low: int,
    high: int,
    carriers: dict[int, float],
    *,
    name: str,
    step: int = 25 * kHz,
    seed: int = 1,
) -> Scan:
    where = np.arange(low, high + 1, step)
    levels = -110 + 10 * np.log10(np.random.default_rng(seed).gamma(20, 1 / 20, (10, len(where))))
    for hz, dbm in carriers.items():
        levels[:, np.argmin(np.abs(where - hz))] = dbm
    return Scan.from_arrays(
        where, levels, averages=20, resolution_bandwidth=step, name=name, taken="2031-05-01"
    )


def test_exclusions_say_why_and_when() -> None:
    scan = busy(470 * MHz, 476 * MHz, {472 * MHz: -63.24}, name="foh")
    [row] = scan.exclusions()
    reason = "scan foh 2031-05-01: -63.2 dBm at 472.000 MHz"
    assert row == ScanExclusion(471_987_500, 472_012_500, reason, dt.date(2031, 5, 1))
    [wide] = scan.exclusions(widen="100 kHz")
    assert (wide.low_hz, wide.high_hz) == (471_887_500, 472_112_500)
    assert quiet(470 * MHz, 476 * MHz).exclusions() == []


def test_exclusions_that_meet_by_widening_are_one() -> None:
    scan = busy(470 * MHz, 476 * MHz, {472 * MHz: -80, 473 * MHz: -60}, name="foh")
    assert len(scan.exclusions()) == 2
    [row] = scan.exclusions(widen="500 kHz")
    assert row.reason.endswith("-60.0 dBm at 473.000 MHz")


def test_exclusions_fit_a_study() -> None:
    scan = demo_scan()
    rows = tomllib.loads(exclusions_text(scan.exclusions()))["availability"]["exclusions"]
    assert rows == [row.as_row() for row in scan.exclusions()]
    fields = tomllib.loads(study_text())
    fields["availability"]["exclusions"] = rows
    sidon.Study.from_dict(fields)
    named = Scan.from_text(demo_text(), name="=a very long name that says too much, " * 9)
    fields["availability"]["exclusions"] = [row.as_row() for row in named.exclusions()]
    sidon.Study.from_dict(fields)


def test_costs_are_decibels_above_the_floor_over_the_bandwidth() -> None:
    scan = busy(470 * MHz, 476 * MHz, {472 * MHz: -80}, name="foh")
    costs = scan.costs([471 * MHz, 472 * MHz, 472_100_000, 472_150_000])
    # Eight cells of 25 kHz make 200 kHz: one at +30 dB among eight is 10 log10(1007 / 8) = 21 dB
    # above the floor, of which 3 dB are free; max hold of averages lies a little above the mean.
    assert costs[0] == costs[3] == 0
    assert costs[1] == pytest.approx(21 - 3 - 1, abs=2)
    # Half of the cell is inside at 472.1 MHz: 3 dB less.
    assert costs[1] - costs[2] == pytest.approx(3, abs=1)
    assert costs.dtype == np.int64
    assert scan.costs([472 * MHz], weight=7)[0] == 7 * costs[1]
    assert scan.costs([472 * MHz], most=5)[0] == 5


def test_what_was_not_heard_is_never_quiet() -> None:
    scan = quiet(470 * MHz, 476 * MHz)
    costs = scan.costs([469 * MHz, 469_950_000, 473 * MHz, 475_950_000, 480 * MHz])
    assert costs.tolist() == [40, 40, 0, 40, 40]
    holed = Scan.from_arrays(
        np.concatenate([np.arange(470, 472, 0.025), np.arange(474, 476, 0.025)]) * MHz,
        np.full(160, -110.0),
    )
    assert holed.costs([471 * MHz, 472 * MHz, 473 * MHz, 475 * MHz]).tolist() == [0, 40, 40, 0]


def test_noise_alone_costs_nothing() -> None:
    # A single sweep of exponential readings: 20 cells of 10 kHz scatter by about 1 dB.
    where = np.arange(470 * MHz, 500 * MHz, 10 * kHz)
    levels = -110 + 10 * np.log10(np.random.default_rng(4).exponential(size=len(where)))
    costs = Scan.from_arrays(where, levels).costs(np.arange(471 * MHz, 499 * MHz, 25 * kHz))
    assert (costs > 0).mean() < 0.01


def test_a_search_prefers_quiet_air() -> None:
    loud = {hz * MHz: -75.0 for hz in range(471, 484)}
    scan = busy(470 * MHz, 490 * MHz, loud, name="foh")
    band = np.arange(471 * MHz, 489 * MHz, 25 * kHz)
    costs = scan.costs(band)
    assert costs.max() > 10
    problem = sidon.Problem.from_arrays(
        domains=[band], link_domain=[0] * 6, separation=350 * kHz, costs=[costs]
    )
    best = sidon.solve(problem, objective="min-interference", seed=1, iterations=20_000)
    assert best.soft == 0
    assert scan.costs(best.frequencies).tolist() == [0] * 6


def test_coverage_names_what_is_missing() -> None:
    scan = quiet(470 * MHz, 476 * MHz)
    found = scan.coverage([(469 * MHz, 473 * MHz), (475 * MHz, 480 * MHz)])
    assert found.covered == ((469_987_500, 473 * MHz), (475 * MHz, 476_012_500))
    assert found.missing == ((469 * MHz, 469_987_500), (476_012_500, 480 * MHz))
    assert found.share == pytest.approx(4.025 / 9)
    assert "not known to be quiet: 469.000-469.9875, 476.0125-480.000 MHz" in str(found)
    assert scan.coverage([(471 * MHz, 472 * MHz)]).complete
    assert scan.coverage([(500 * MHz, 501 * MHz)]).share == 0


def test_tables_and_air_are_compared_both_ways() -> None:
    scan = demo_scan()
    table = scan.compare(CHANNELS, [15, 16, 19, 22, 30, 35], false_hits=0.01)
    found = dict(zip(table["channel"].tolist(), table["finding"].tolist(), strict=True))
    assert found["15"] == found["19"] == found["22"] == "listed and seen"
    assert found["23"] == found["26"] == found["34"] == "seen, not listed"
    assert found["35"] == "listed, not seen"
    assert found["30"] == "listed, only narrow signals seen"
    assert found["17"] == "narrow signals, not listed"
    assert found["14"] == found["36"] == "quiet"
    row = table["channel"].tolist().index("15")
    assert table["filled"][row] == pytest.approx(5.375 / 5.8, abs=0.01)
    assert table["peak_dbm"][row] > -80


def test_channels_that_were_not_heard_are_not_quiet() -> None:
    scan = quiet(470 * MHz, 479 * MHz)
    table = scan.compare(CHANNELS, [36], false_hits=0.01)
    found = dict(zip(table["channel"].tolist(), table["finding"].tolist(), strict=True))
    assert found["14"] == "quiet"
    assert found["15"] == "nothing seen; only 50 % covered"
    assert found["16"] == "not covered by the scan"
    assert found["36"] == "listed, not covered by the scan"


def test_merged_scans_keep_which_saw_what() -> None:
    day = busy(470 * MHz, 482 * MHz, {472 * MHz: -70, 480 * MHz: -60}, name="day")
    night = busy(476 * MHz, 488 * MHz, {480 * MHz: -50, 486 * MHz: -80}, seed=2, name="night")
    both = day.merge(night)
    rows = both.occupied()
    assert [(row.peak_hz // MHz, row.peak_dbm, row.seen_by) for row in rows] == [
        (472, -70, ("day",)),
        (480, -50, ("day", "night")),
        (486, -80, ("night",)),
    ]
    assert both.spans == [(469_987_500, 488_012_500)]
    assert both.max_hold().max() == -50
    loudest = both.loudest()[[np.argmax(both.frequency_hz == hz * MHz) for hz in (472, 480, 486)]]
    assert loudest.tolist() == [0, 1, 1]
    assert [row.reason[:9] for row in both.exclusions()] == [
        "scan day ",
        "scan day ",
        "scan nigh",
        "scan nigh",
    ]
    assert both.costs([472 * MHz, 474 * MHz, 486 * MHz, 495 * MHz]).tolist() == [
        day.costs([472 * MHz])[0],
        0,
        night.costs([486 * MHz])[0],
        40,
    ]
    assert "seen by day, night" in both.summary()
    assert pickle.loads(pickle.dumps(both)) == both
    assert set(both.table()["scan"].tolist()) == {"day", "night"}


def test_merged_scans_of_different_resolution() -> None:
    fine = quiet(470 * MHz, 476 * MHz, step=5 * kHz, name="fine")
    coarse = busy(470 * MHz, 476 * MHz, {473 * MHz: -60}, step=100 * kHz, name="coarse")
    both = MergedScan([fine, coarse])
    assert any("bandwidths differ" in warning for warning in both.warnings)
    level = both.max_hold()
    where = both.frequency_hz
    # A coarse point stands for all of its piece of spectrum.
    inside = (where > 472_950_000) & (where < 473_050_000)
    assert set(level[inside].tolist()) == {-60.0}
    assert len(where) == 1201
    [seen] = both.occupied(false_hits=0.01)
    assert (seen.low_hz, seen.high_hz, seen.seen_by) == (472_950_000, 473_050_000, ("coarse",))
    with pytest.raises(AttributeError, match="immutable"):
        both.scans = ()  # type: ignore[misc]
    with pytest.raises(sidon.InvalidProblemError, match="at least one scan"):
        MergedScan([])


def test_names_of_merged_scans_differ() -> None:
    one = quiet(470 * MHz, 472 * MHz)
    assert MergedScan([one, one]).names == ("scan 1", "scan 2")
    named = quiet(470 * MHz, 472 * MHz, name="a")
    assert MergedScan([named, named]).names == ("a", "a (2)")
