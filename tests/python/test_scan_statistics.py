"""Statistics of noise readings against the exponential and gamma distributions."""

from __future__ import annotations

import numpy as np
import pytest

import sidon
from sidon.spectrum.scan import statistics
from sidon.spectrum.scan.occupied import false_alarm_db
from sidon.spectrum.scan.units import DBUV_TO_DBM

# Computed from the exponential distribution: 10 log10(-ln(1 - p)).
QUANTILES = {
    0.05: -12.90,
    0.10: -9.77,
    0.20: -6.51,
    0.25: -5.41,
    0.50: -1.59,
    0.80: 2.07,
    0.90: 3.62,
    0.99: 6.63,
}


@pytest.mark.parametrize(("share", "expected"), QUANTILES.items())
def test_quantiles_of_single_readings(share: float, expected: float) -> None:
    assert statistics.quantile_db(share) == pytest.approx(expected, abs=0.005)


# Computed from the gamma distribution of shape K, scaled to mean 1.
@pytest.mark.parametrize(
    ("share", "averages", "expected"),
    [
        (0.2, 10, -1.37),
        (0.2, 100, -0.39),
        (0.5, 10, -0.15),
        (0.5, 100, -0.01),
    ],
)
def test_quantiles_of_averages(share: float, averages: int, expected: float) -> None:
    found = statistics.quantile_db(share, averages=averages)
    assert found == pytest.approx(expected, abs=0.005)


# Computed from the gamma distribution: its partial mean below the quantile.
@pytest.mark.parametrize(
    ("share", "averages", "expected"),
    [
        (0.2, 1, -9.69),
        (0.2, 10, -2.21),
        (0.2, 100, -0.63),
        (0.8, 1, -2.24),
        (0.8, 10, -0.55),
        (0.8, 100, -0.16),
    ],
)
def test_mean_of_the_lowest(share: float, averages: int, expected: float) -> None:
    found = statistics.lowest_mean_db(share, averages=averages)
    assert found == pytest.approx(expected, abs=0.005)


# The mean of the largest of M exponential readings is the harmonic number H_M.
@pytest.mark.parametrize(
    ("held", "expected"), [(1, 0), (2, 1.76), (10, 4.67), (100, 7.15), (1000, 8.74)]
)
def test_max_hold_is_harmonic(held: int, expected: float) -> None:
    assert statistics.mean_db(held=held) == pytest.approx(expected, abs=0.005)


# Computed from the exponential distribution: 10 log10(-ln P).
@pytest.mark.parametrize(
    ("chance", "expected"), [(0.1, 3.62), (0.01, 6.63), (1e-3, 8.39), (1e-4, 9.64), (1e-6, 11.40)]
)
def test_thresholds_for_false_alarms(chance: float, expected: float) -> None:
    assert statistics.threshold_db(chance) == pytest.approx(expected, abs=0.005)


def test_one_false_hit_among_five_thousand() -> None:
    # -ln(1/5000) = 8.52, which is 9.30 dB (computed from the exponential distribution).
    found = false_alarm_db(5_000, false_hits=1, above_db=5, averages=1, held=1)
    assert found == pytest.approx(9.30, abs=0.005)
    # Many averages scatter little: then the least distance holds.
    assert false_alarm_db(5_000, false_hits=1, above_db=5, averages=200, held=1) == 5


def test_an_average_of_decibels_reads_low() -> None:
    # Euler's constant: the mean of the logarithm of an exponential variable is -gamma.
    assert pytest.approx(-2.51, abs=0.005) == statistics.LOG_AVERAGE_DB


def test_a_gaussian_filter_is_wider_for_noise() -> None:
    # sqrt(pi / (4 ln 2)), from the integral of a Gaussian over its 3 dB width in power.
    exact = np.sqrt(np.pi / (4 * np.log(2)))
    assert pytest.approx(exact, abs=5e-5) == statistics.GAUSSIAN_NOISE_FACTOR
    assert 10 * np.log10(statistics.GAUSSIAN_NOISE_FACTOR) == pytest.approx(0.27, abs=0.005)


# 10 log10(B / RBW).
@pytest.mark.parametrize(
    ("narrow", "wide", "expected"),
    [
        ("10 kHz", "200 kHz", 13.01),
        ("30 kHz", "200 kHz", 8.24),
        ("3 kHz", "25 kHz", 9.21),
        ("30 kHz", "100 kHz", 5.23),
        ("100 kHz", "6 MHz", 17.78),
        ("100 kHz", "5.381 MHz", 17.31),
        ("100 kHz", "8 MHz", 19.03),
        ("100 kHz", "7.61 MHz", 18.81),
    ],
)
def test_bandwidth_corrections(narrow: str, wide: str, expected: float) -> None:
    assert sidon.bandwidth_correction_db(narrow, wide) == pytest.approx(expected, abs=0.005)
    assert sidon.bandwidth_correction_db(wide, narrow) == pytest.approx(-expected, abs=0.005)


def test_no_bandwidth_is_refused() -> None:
    with pytest.raises(sidon.InvalidProblemError, match="not above zero") as caught:
        sidon.bandwidth_correction_db(0, "-1 kHz")
    assert [fault.place for fault in caught.value.faults] == ["from_hz", "to_hz"]


def test_microvolts_over_fifty_ohms() -> None:
    # P = U^2 / R: 1 uV over 50 ohm is 2e-14 W = -106.99 dBm.
    assert pytest.approx(10 * np.log10(1e-12 / 50 * 1e3)) == DBUV_TO_DBM
    assert pytest.approx(-106.99, abs=0.005) == DBUV_TO_DBM


@pytest.mark.parametrize(
    ("averages", "held"), [(1, 1), (4, 1), (1, 7), (5, 6), (2_500, 1), (3_000, 4)]
)
def test_all_of_it_against_draws(averages: int, held: int) -> None:
    # Monte Carlo with a fixed seed; tolerances of about five standard errors.
    random = np.random.default_rng(20)
    draws = random.gamma(averages, 1 / averages, size=(100_000, held)).max(axis=1)
    lowest = np.sort(draws)[:20_000].mean()
    found = {
        "mean": statistics.mean_db(averages=averages, held=held),
        "quantile": statistics.quantile_db(0.3, averages=averages, held=held),
        "lowest": statistics.lowest_mean_db(0.2, averages=averages, held=held),
        "threshold": statistics.threshold_db(0.01, averages=averages, held=held),
    }
    drawn = {
        "mean": draws.mean(),
        "quantile": np.quantile(draws, 0.3),
        "lowest": lowest,
        "threshold": np.quantile(draws, 0.99),
    }
    for name, value in drawn.items():
        assert found[name] == pytest.approx(10 * np.log10(value), abs=0.12), name


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 20])
def test_median_of_a_few_against_draws(count: int) -> None:
    random = np.random.default_rng(21)
    draws = np.median(random.exponential(size=(200_000, count)), axis=1)
    expected = 10 * np.log10(draws.mean())
    assert statistics.median_of_db(count) == pytest.approx(expected, abs=0.03)
