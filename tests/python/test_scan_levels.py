"""Reductions, floor, threshold, occupancy and channel power of scans made by lot."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from sidon import MHz, Scan, kHz
from sidon.spectrum.scan import demo_scan
from sidon.spectrum.scan.measured import Trace

NOISE_DBM = -110.0


def noise(*, points: int, sweeps: int = 1, averages: int = 1, seed: int = 5) -> NDArray[np.float64]:
    """Noise of a known mean power: the average of exponential readings, in dBm."""
    random = np.random.default_rng(seed)
    power = random.gamma(averages, 1 / averages, size=(sweeps, points))
    return NOISE_DBM + 10 * np.log10(power)


def grid(points: int, step: int = 10 * kHz) -> NDArray[np.int64]:
    return 470 * MHz + step * np.arange(points, dtype=np.int64)


def test_reductions_are_those_of_numpy() -> None:
    levels = noise(points=300, sweeps=7)
    scan = Scan.from_arrays(grid(300), levels)
    power = 10 ** (levels / 10)
    assert np.array_equal(scan.max_hold(), levels.max(axis=0))
    assert np.allclose(scan.mean(), 10 * np.log10(power.mean(axis=0)))
    assert np.allclose(scan.median(), np.median(levels, axis=0))
    assert np.allclose(scan.quantile(0.3), np.quantile(levels, 0.3, axis=0))


def test_reductions_pass_over_what_is_missing() -> None:
    levels = noise(points=300, sweeps=7)
    levels[np.random.default_rng(1).random(levels.shape) < 0.3] = np.nan
    levels[0] = np.where(np.isnan(levels).all(axis=0), -110, levels[0])
    scan = Scan.from_arrays(grid(300), levels)
    assert np.array_equal(scan.max_hold(), np.nanmax(levels, axis=0))
    assert np.allclose(scan.mean(), 10 * np.log10(np.nanmean(10 ** (levels / 10), axis=0)))
    assert np.allclose(scan.quantile(0.25), np.nanquantile(levels, 0.25, axis=0))


def test_means_are_of_power() -> None:
    # Powers of 0 and -10 dB average to 10 log10(0.55) = -2.596 dB; decibels would give -5.
    scan = Scan.from_arrays([470 * MHz, 471 * MHz], [[-60, -60], [-70, -60]])
    assert scan.mean().tolist() == pytest.approx([-62.596, -60], abs=0.001)


@pytest.mark.parametrize(("sweeps", "averages"), [(1, 1), (1, 10), (20, 1), (50, 4)])
def test_the_floor_is_the_mean_noise(sweeps: int, averages: int) -> None:
    levels = noise(points=6_000, sweeps=sweeps, averages=averages)
    scan = Scan.from_arrays(grid(6_000), levels, averages=averages)
    # The 25 % quantile of 3,000 exponential readings scatters by 0.16 dB; more averages, less.
    assert np.abs(scan.floor() - NOISE_DBM).max() < 0.6
    assert scan.floor().mean() == pytest.approx(NOISE_DBM, abs=0.25)


def test_the_floor_of_a_max_hold_file_is_freed_of_its_bias() -> None:
    held = noise(points=6_000, sweeps=100).max(axis=0)
    # The mean of the largest of 100 is the harmonic number H_100: 7.15 dB.
    assert 10 * np.log10((10 ** (held / 10)).mean()) == pytest.approx(NOISE_DBM + 7.15, abs=0.05)
    scan = Scan.from_arrays(grid(6_000), held, held=100)
    assert scan.floor().mean() == pytest.approx(NOISE_DBM, abs=0.15)
    assert len(scan.occupied()) <= 4


def test_the_floor_in_time_is_the_mean_noise() -> None:
    scan = Scan.from_arrays(grid(2_000), noise(points=2_000, sweeps=100))
    found = scan.floor("sweeps", share=0.2)
    # The lowest fifth of exponential readings has a mean 9.69 dB below theirs.
    assert 10 * np.log10((10 ** (found / 10)).mean()) == pytest.approx(NOISE_DBM, abs=0.2)
    assert found.std() < 1.5


@pytest.mark.parametrize("filled", [0.2, 0.5, 0.7])
@pytest.mark.parametrize("sweeps", [1, 30])
def test_signals_do_not_lift_the_floor(filled: float, sweeps: int) -> None:
    levels = noise(points=13_800, sweeps=sweeps)
    channels = np.arange(13_800) // 600
    busy = np.random.default_rng(3).permutation(23)[: round(23 * filled)]
    levels[:, np.isin(channels, busy)] += 30
    scan = Scan.from_arrays(grid(13_800), levels)
    # Where a window is filled, its floor is held to a tenth of a decibel per megahertz.
    assert np.abs(scan.floor() - NOISE_DBM).max() < (1.2 if filled < 0.7 else 3)


def test_a_window_without_quiet_is_held_to_the_rest_and_said() -> None:
    levels = noise(points=13_800, sweeps=10)
    levels[:, 6_000:10_000] += 40
    scan = Scan.from_arrays(grid(13_800), levels)
    assert scan.floor().max() < NOISE_DBM + 3
    assert "hold no quiet part" in scan.summary()
    assert any(r.low_hz <= 531 * MHz and r.high_hz >= 569 * MHz for r in scan.occupied())


def test_a_floor_that_tilts_is_followed() -> None:
    tilt = np.linspace(0, 5, 13_800)
    scan = Scan.from_arrays(grid(13_800), noise(points=13_800, sweeps=10) + tilt)
    inner = slice(1_500, -1_500)
    assert np.abs(scan.floor() - (NOISE_DBM + tilt))[inner].max() < 0.7
    assert len(scan.occupied()) <= 4


@pytest.mark.parametrize(("sweeps", "averages"), [(1, 1), (30, 1), (1, 8)])
def test_false_hits_are_as_few_as_asked(sweeps: int, averages: int) -> None:
    hits = []
    for seed in range(20):
        levels = noise(points=5_000, sweeps=sweeps, averages=averages, seed=seed)
        scan = Scan.from_arrays(grid(5_000), levels, averages=averages)
        hits.append(int((scan.max_hold() > scan.threshold(above_db=0, false_hits=5)).sum()))
    # Twenty Poisson draws of mean 5 have a mean within 1.5 of it; the floor adds its own scatter.
    assert 2.5 < np.mean(hits) < 9


def test_the_threshold_of_five_thousand_points_is_9_30_db_up() -> None:
    # -ln(1/5000): computed from the exponential distribution.
    scan = Scan.from_arrays(grid(5_000), noise(points=5_000))
    assert (scan.threshold() - scan.floor()).tolist() == pytest.approx([9.30] * 5_000, abs=0.005)
    assert scan.threshold(threshold_dbm=-90).tolist() == [-90] * 5_000


def carriers() -> Scan:
    """Two carriers, one of them in four of ten sweeps, on quiet noise; invented."""
    levels = noise(points=3_000, sweeps=10, seed=8)
    levels[:, 1_000:1_006] = -70
    levels[3, 1_003] = -65
    levels[:4, 2_000] = -60
    return Scan.from_arrays(grid(3_000), levels, resolution_bandwidth="10 kHz", name="invented")


def test_occupied_intervals() -> None:
    first, second = carriers().occupied(false_hits=0.01)
    assert (first.low_hz, first.high_hz) == (479_995_000, 480_055_000)
    assert (first.peak_hz, first.peak_dbm, first.share) == (480_030_000, -65, 1)
    assert first.wide
    assert (second.low_hz, second.high_hz) == (489_995_000, 490_005_000)
    assert second.share == pytest.approx(0.4)
    assert not second.wide
    assert second.seen_by == ("invented",)


def test_intervals_are_bridged() -> None:
    levels = np.full(100, -110.0) + np.arange(100) % 3
    levels[[40, 48]] = -60
    scan = Scan.from_arrays(grid(100), levels)
    # From 470.405 to 470.475 MHz there is nothing: 70 kHz.
    assert len(scan.occupied(threshold_dbm=-80)) == 1
    assert len(scan.occupied(threshold_dbm=-80, bridge="71 kHz")) == 1
    assert len(scan.occupied(threshold_dbm=-80, bridge="70 kHz")) == 2
    assert len(scan.occupied(threshold_dbm=-80, bridge=0)) == 2


def test_occupancy_is_a_share_of_sweeps() -> None:
    scan = carriers()
    assert scan.occupancy(false_hits=0.01)[[1_000, 2_000, 500]].tolist() == [1.0, 0.4, 0.0]


def flat(
    level: float, *, step: int = 10 * kHz, low: int = 470 * MHz, high: int = 476 * MHz
) -> Scan:
    where = np.arange(low, high + 1, step)
    return Scan.from_arrays(
        where, np.full(len(where), level), resolution_bandwidth="10 kHz", noise_factor=1
    )


def test_a_flat_spectrum_adds_up() -> None:
    # -111.31 dBm in 10 kHz over the 5.381 MHz of an 8-VSB signal are -84.00 dBm:
    # 10 log10(5381 / 10) = 27.31 dB.
    scan = flat(-111.31)
    row = scan.channel_power(470_309_000, 475_690_000)
    assert row.power_dbm == pytest.approx(-84.00, abs=0.005)
    # Twice as many points say the same; so do edges between points.
    fine = flat(-111.31, step=5 * kHz)
    assert fine.channel_power(470_309_000, 475_690_000).power_dbm == pytest.approx(-84, abs=0.005)
    # 10 log10(6000 / 10) = 27.78 dB over all of 6 MHz.
    assert scan.channel_power(470 * MHz, 476 * MHz).power_dbm == pytest.approx(-83.53, abs=0.005)


def test_a_gaussian_filter_reads_noise_high() -> None:
    where = np.arange(470 * MHz, 476 * MHz + 1, 10 * kHz)
    scan = Scan.from_arrays(where, np.full(len(where), -111.31), resolution_bandwidth="10 kHz")
    # 10 log10(1.0645) = 0.27 dB.
    row = scan.channel_power(470_309_000, 475_690_000)
    assert row.power_dbm == pytest.approx(-84.27, abs=0.005)


# The limit of -84 dBm over an 8-VSB channel of 5.381 MHz, per bandwidth of the scan:
# -84 - 10 log10(5381 / RBW).
@pytest.mark.parametrize(
    ("width", "level"),
    [("1 MHz", -91.31), ("100 kHz", -101.31), ("30 kHz", -106.54), ("10 kHz", -111.31)],
)
def test_the_floor_must_be_below_the_limit_in_the_bandwidth_of_the_scan(
    width: str, level: float
) -> None:
    where = np.arange(470 * MHz, 476 * MHz + 1, 25 * kHz)

    def judged(floor: float) -> str | None:
        scan = Scan.from_arrays(
            where, np.full(len(where), floor), resolution_bandwidth=width, noise_factor=1
        )
        return scan.channel_power(470_309_000, 475_690_000, limit_dbm=-84).verdict

    assert judged(level - 0.05) == "below"
    assert judged(level + 0.05) == "cannot tell"


def test_a_signal_over_the_limit_is_told_from_the_floor() -> None:
    where = np.arange(470 * MHz, 482 * MHz + 1, 10 * kHz)
    levels = np.where(where < 476 * MHz, -120.0, -100.0)  # 5 kHz of the upper lie in 14
    scan = Scan.from_arrays(where, levels, resolution_bandwidth="10 kHz", noise_factor=1)
    quiet, busy, beyond = scan.channels(
        {14: (470 * MHz, 476 * MHz), 15: (476 * MHz, 482 * MHz), 16: (482 * MHz, 488 * MHz)},
        limit_dbm=-84,
    )
    assert (quiet.verdict, busy.verdict, beyond.verdict) == ("below", "above", "cannot tell")
    assert "7.9 dB under the limit" in str(quiet)
    assert busy.power_dbm == pytest.approx(-72.2, abs=0.1)
    assert beyond.covered < 0.01
    half = scan.channel_power(470 * MHz, 484 * MHz, limit_dbm=-60)
    assert half.verdict == "cannot tell"
    assert "covers only 85.8 %" in half.reason


@pytest.mark.parametrize("trace", ["mean", "median", "max_hold"])
def test_noise_alone_is_never_called_a_signal(trace: Trace) -> None:
    # -100 dBm in 10 kHz is -72 dBm in 6 MHz, above the limit; it is all noise of the receiver.
    levels = noise(points=601, sweeps=50) + 10
    scan = Scan.from_arrays(grid(601), levels, resolution_bandwidth="10 kHz", noise_factor=1)
    row = scan.channel_power(470 * MHz, 476 * MHz, limit_dbm=-84, trace=trace)
    assert row.verdict == "cannot tell"
    assert "use a narrower resolution bandwidth" in row.reason
    if trace != "max_hold":
        assert row.power_dbm == pytest.approx(-100 + 27.78, abs=0.1)


def test_averages_of_decibels_are_made_up_for() -> None:
    random = np.random.default_rng(6)
    shown = (NOISE_DBM + 10 * np.log10(random.exponential(size=(40, 6_000)))).mean(axis=0)
    # Euler's constant: such an average lies 2.51 dB below the mean noise power.
    assert shown.mean() == pytest.approx(NOISE_DBM - 2.51, abs=0.05)
    scan = Scan.from_arrays(
        grid(6_000),
        shown,
        averages=40,
        averaged_in="decibels",
        resolution_bandwidth="10 kHz",
        noise_factor=1,
    )
    assert scan.floor().mean() == pytest.approx(NOISE_DBM, abs=0.15)
    assert len(scan.occupied()) <= 4
    row = scan.channel_power(480 * MHz, 486 * MHz)
    # 10 log10(600) = 27.78 dB.
    assert row.power_dbm == pytest.approx(NOISE_DBM + 27.78, abs=0.15)
    assert scan.costs([485 * MHz]).tolist() == [0]


def test_no_limit_no_verdict() -> None:
    row = flat(-111).channel_power("470 MHz", "476 MHz", trace="max_hold", name="14")
    assert row.verdict is None
    assert str(row) == "channel 14, 470.000-476.000 MHz: -83.2 dBm"


def test_the_floor_in_another_bandwidth() -> None:
    # 10 -> 200 kHz: 13.01 dB.
    assert flat(-120).noise_dbm("200 kHz")[0] - flat(-120).floor()[0] == pytest.approx(
        13.01, abs=0.01
    )


def test_bandwidth_is_corrected_for_what_is_like_noise_only() -> None:
    scan = demo_scan()
    carrier = next(row for row in scan.occupied() if row.peak_hz == 491_600_000)
    narrow = next(row for row in carriers().occupied(false_hits=0.01) if not row.wide)
    channel = next(row for row in scan.occupied() if row.low_hz < 503 * MHz < row.high_hz)
    assert carriers().level_dbm(narrow, "200 kHz") == narrow.peak_dbm
    assert carrier.width_hz < 200 * kHz
    # 30 -> 200 kHz is 8.24 dB, less the 0.27 dB of the Gaussian filter.
    assert scan.level_dbm(channel, "200 kHz") - channel.peak_dbm == pytest.approx(7.97, abs=0.01)


def test_the_table_holds_the_traces() -> None:
    table = demo_scan(sweeps=3).table()
    assert list(table) == [
        "frequency_hz",
        "max_hold_dbm",
        "mean_dbm",
        "floor_dbm",
        "threshold_dbm",
        "occupancy",
    ]
    assert table.n_rows == 5521
    assert bool((table["mean_dbm"] <= table["max_hold_dbm"] + 1e-9).all())
