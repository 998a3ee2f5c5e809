"""What a scan finds and no table lists: TV is kept clear whole, a carrier by a separation."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sidon
from sidon.spectrum.scan.compare import filled
from sidon.study.scans import quiet_costs

MHZ = 1_000_000


def air_text(
    *,
    tv: tuple[tuple[float, float], ...] = (),
    carriers: tuple[float, ...] = (),
    low: float = 470.0,
    high: float = 500.0,
) -> str:
    """Write a scan with noise-like blocks 50 dB above the floor, and carriers; invented."""
    random = np.random.default_rng(5)
    where = np.arange(round(low * 40), round(high * 40) + 1) / 40
    power = 1e-11 * random.exponential(1, len(where))
    for a, b in tv:
        # A digital TV signal fills its channel but for the rims (common practice).
        inside = (where >= a + 0.3) & (where <= b - 0.3)
        power[inside] += 1e-6 * random.exponential(1, int(inside.sum()))
    for carrier in carriers:
        power[np.abs(where - carrier) < 0.06] += 1e-7
    rows = zip(where.tolist(), (10 * np.log10(power)).tolist(), strict=True)
    return "# RBW 30 kHz\nMHz,dBm\n" + "".join(f"{mhz:.3f},{dbm:.1f}\n" for mhz, dbm in rows)


@pytest.fixture
def fields(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, study_fields: dict[str, Any]
) -> dict[str, Any]:
    """Return a study whose TV channels 15 and 17 are listed, with a scan named air.csv."""
    monkeypatch.chdir(tmp_path)
    del study_fields["locks"], study_fields["incumbents"]
    study_fields["availability"]["edge_guard"] = "500 kHz"
    study_fields["availability"]["scans"] = [{"file": "air.csv", "taken": "2026-05-01"}]
    return study_fields


def planned(fields: dict[str, Any], text: str) -> sidon.Plan:
    Path("air.csv").write_text(text, encoding="utf-8")
    return sidon.Study.from_dict(fields).plan(seed=1, iterations=20_000)


def reasons(plan: sidon.Plan) -> dict[str, tuple[int, int]]:
    assert plan.document.spectrum is not None
    rows = plan.document.spectrum.exclusions
    return {row.reason: (row.low_hz, row.high_hz) for row in rows}


def test_tv_that_is_not_listed_keeps_its_channel_and_guard(fields: dict[str, Any]) -> None:
    plan = planned(fields, air_text(tv=((482, 488), (476, 482))))
    found = reasons(plan)
    assert found["scan: looks like TV on 16, not listed"] == (481_500_000, 488_500_000)
    # Channel 15 is listed already.
    assert not any("TV on 15" in reason for reason in found)
    half = 100_000
    assert plan.assignments
    for row in plan.assignments:
        high, low = row.frequency_hz + half, row.frequency_hz - half
        assert high <= 481_500_000 or low >= 488_500_000
    [said] = [text for text in plan.document.caution if "looks like TV" in text]
    assert said == (
        "Scan air of 2026-05-01: what fills channel 16 looks like TV that no table lists; the "
        "whole channel is kept clear, with the edge guard: find out whose it is."
    )


def test_carriers_in_a_channel_are_no_tv(fields: dict[str, Any]) -> None:
    plan = planned(fields, air_text(carriers=(483.0, 484.0, 486.5)))
    found = reasons(plan)
    assert len(found) == 3
    assert not any("looks like TV" in text for text in [*found, *plan.document.caution])


def test_a_carrier_at_the_end_of_a_scan_is_no_tv() -> None:
    channel = (482 * MHZ, 488 * MHZ)
    heard = [(470 * MHZ, 482_400_000)]
    assert not filled([(482_150_000, 482_350_000)], heard, channel)
    assert not filled([(482_150_000, 482_350_000)], [(470 * MHZ, 500 * MHZ)], channel)
    assert not filled([], [], channel)
    # Half of the channel heard, and that half full.
    half = [(470 * MHZ, 485 * MHZ)]
    assert filled([(482_300_000, 485 * MHZ)], half, channel)


def test_tv_in_a_region_is_told_by_the_channels_of_the_region(fields: dict[str, Any]) -> None:
    ours = fields["availability"]
    del ours["tv_raster"]
    ours |= {"region": "us", "licensed": True, "occupied": [15], "ranges": [[470, 500]]}
    # Channel 16 of the United States is 482 to 488 MHz (47 CFR 73.603).
    plan = planned(fields, air_text(tv=((482, 488),)))
    assert reasons(plan)["scan: looks like TV on 16, not listed"] == (481_500_000, 488_500_000)


def test_a_scan_that_excludes_nothing_still_warns(fields: dict[str, Any]) -> None:
    fields["availability"]["scans"][0]["use"] = "prefer"
    plan = planned(fields, air_text(tv=((482, 488), (494, 500))))
    assert reasons(plan) == {}
    [said] = [text for text in plan.document.caution if "looks like TV" in text]
    assert "what fills channels 16, 18 looks like TV that no table lists; the scan is not" in said
    assert "list them in occupied" in said
    # The quiet gaps between the signal and the edges of its channel, and the guard, are no bargain.
    available = sidon.Study.from_dict(fields).model.availability
    costs = quiet_costs(available, [481_700_000, 482_150_000, 487_850_000, 480_000_000], 200_000)
    assert costs is not None
    assert costs[:3] == [40, 40, 40]
    assert costs[3] < 5
    # The in-ear links tune nothing but channel 18, and stand there none the less.
    hand = [row.frequency_hz for row in plan.assignments if row.profile == "hand"]
    assert hand
    assert all(hz + 100_000 <= 481_500_000 or hz - 100_000 >= 488_500_000 for hz in hand)
    assert any(row.profile == "ears" for row in plan.assignments)


def test_capacity_knows_of_it(fields: dict[str, Any]) -> None:
    Path("air.csv").write_text(air_text(tv=((482, 488),)), encoding="utf-8")
    study = sidon.Study.from_dict(fields)
    found = study.capacity(iterations=200, what_if=False)
    assert any("what fills channel 16 looks like TV" in note for note in found.notes)


def test_a_carrier_keeps_a_separation_from_its_middle(fields: dict[str, Any]) -> None:
    fields["availability"]["scans"][0]["use"] = "exclude"
    found = reasons(planned(fields, air_text(carriers=(483.0,))))
    assert list(found.values()) == [(482_750_000, 483_250_000)]
    fields["availability"]["scans"][0]["widen"] = "100 kHz"
    found = reasons(planned(fields, air_text(carriers=(483.0,))))
    # Cells of 25 kHz about five points.
    assert list(found.values()) == [(482_837_500, 483_162_500)]


def test_what_is_narrow_may_reach_across_what_is_wide() -> None:
    where = 470 * MHZ + 25_000 * np.arange(400)
    levels = np.full(400, -110.0) + np.arange(400) % 3
    levels[100:112] = -60
    levels[118] = -50
    scan = sidon.Scan.from_arrays(where, levels, resolution_bandwidth="30 kHz", name="x")
    assert len(scan.occupied()) == 2
    [row] = scan.exclusions(clear="400 kHz")
    # From 400 kHz below the middle of the first to 400 kHz above that of the second.
    assert (row.low_hz, row.high_hz) == (472_237_500, 473_350_000)
    assert "-50.0 dBm" in row.reason
