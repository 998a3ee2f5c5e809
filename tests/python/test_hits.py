"""Hits against a brute force over all products, against known sets, and with bad input."""

from __future__ import annotations

import itertools
from collections import Counter
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sidon
from sidon import MHz, kHz

COEFFICIENTS = {
    "2A-B": (2, -1),
    "A+B-C": (1, 1, -1),
    "3A-2B": (3, -2),
    "3A-B-C": (3, -1, -1),
    "2A+B-2C": (2, 1, -2),
    "2A+B-C-D": (2, 1, -1, -1),
    "A+B+C-2D": (1, 1, 1, -2),
    "A+B+C-D-E": (1, 1, 1, -1, -1),
}


def brute_force(carriers: list[int], form: str, guard: int) -> Counter[tuple[Any, ...]]:
    """List hits by their definition: every ordered choice of letters, equal ones sorted."""
    coefficients = np.array(COEFFICIENTS[form])
    hits: set[tuple[Any, ...]] = set()
    hertz = np.array(carriers, dtype=np.int64)
    for letters in itertools.permutations(range(len(carriers)), len(coefficients)):
        ordered = all(
            letters[i] < letters[i + 1]
            for i in range(len(letters) - 1)
            if coefficients[i] == coefficients[i + 1]
        )
        if not ordered:
            continue
        product = int(coefficients @ hertz[list(letters)])
        for victim in set(range(len(carriers))) - set(letters):
            if abs(product - carriers[victim]) < guard:
                hits.add((form, letters, victim, product, product - carriers[victim]))
    return Counter(hits)


@settings(max_examples=60, deadline=None)
@given(
    carriers=st.lists(st.integers(-20, 60), min_size=0, max_size=7),
    form=st.sampled_from(sorted(COEFFICIENTS)),
    guard=st.integers(0, 6),
)
def test_hits_are_those_of_the_definition(carriers: list[int], form: str, guard: int) -> None:
    table = sidon.hits(carriers, guards={form: guard})
    expected = brute_force(carriers, form, guard)
    assert Counter(table.rows()) == expected
    counts = sidon.hit_counts(carriers, guards={form: guard})
    by_victim = Counter(row[2] for row in expected.elements())
    assert counts[form].tolist() == [by_victim[i] for i in range(len(carriers))]


@settings(max_examples=30, deadline=None)
@given(
    carriers=st.lists(st.integers(0, 40), min_size=1, max_size=7),
    widths=st.lists(st.integers(0, 5), min_size=7, max_size=7),
)
def test_each_victim_may_have_its_own_guard(carriers: list[int], widths: list[int]) -> None:
    widths = widths[: len(carriers)]
    table = sidon.hits(carriers, guards={"2A-B": widths, "A+B-C": 3})
    expected = brute_force(carriers, "A+B-C", 3)
    for victim, width in enumerate(widths):
        own = brute_force(carriers, "2A-B", width)
        expected += Counter({row: n for row, n in own.items() if row[2] == victim})
    assert Counter(table.rows()) == expected


@pytest.mark.parametrize(("n", "two_tone", "three_tone"), [(4, 4, 4), (5, 8, 12), (8, 24, 88)])
def test_equal_spacing(n: int, two_tone: int, three_tone: int) -> None:
    # Closed forms for equally spaced carriers, less the A+B-C that fall on C itself; computed by
    # exhaustive count.
    carriers = [500 * MHz + 400 * kHz * i for i in range(n)]
    table = sidon.hit_counts(carriers, guards={"2A-B": 1, "A+B-C": 1})
    assert table["2A-B"].sum() == two_tone
    assert table["A+B-C"].sum() == three_tone


def test_a_set_free_of_third_order_hits() -> None:
    # A national regulator's example of four frequencies in 863-865 MHz that work at once:
    # 863.1 MHz + 200 kHz x {0, 3, 5, 9}, whose differences are distinct.
    carriers = [863.1 * MHz, 863.7 * MHz, 864.1 * MHz, 864.9 * MHz]
    assert sidon.hits(carriers, guards={"2A-B": 200 * kHz, "A+B-C": 200 * kHz}).n_rows == 0
    assert sidon.hits(carriers, guards={"2A-B": 201 * kHz, "A+B-C": 201 * kHz}).n_rows > 0


def test_every_product_is_a_hit_of_a_wide_guard() -> None:
    # Number of products of N carriers: N(N-1) of 2A-B and N(N-1)(N-2)/2 of A+B-C; each meets every
    # other carrier within so wide a guard.
    n = 10
    table = sidon.hit_counts(range(n), guards={"2A-B": 10_000, "A+B-C": 10_000})
    assert table["2A-B"].sum() == n * (n - 1) * (n - 2)
    assert table["A+B-C"].sum() == n * (n - 1) * (n - 2) // 2 * (n - 3)


HERTZ = [470_000_000, 470_400_000, 470_800_000, 472_125_000]


@pytest.mark.parametrize(
    "values",
    [
        HERTZ,
        tuple(HERTZ),
        iter(HERTZ),
        np.array(HERTZ),
        np.array(HERTZ, dtype=np.uint32),
        np.array(HERTZ, dtype=object),
        np.array([470.0, 470.4, 470.8, 472.125]) * MHz,
        np.array(HERTZ)[::-1][::-1],
        pd.Series(HERTZ, index=[7, 7, 7, 7]),
        pd.Series(HERTZ, dtype="Int64"),
        pl.Series(HERTZ),
        pl.DataFrame({"hz": HERTZ})["hz"],
        ["470 MHz", "470.4 MHz", "470.8", "472_125 kHz"],
        np.array(["470 MHz", "470.4 MHz", "470.8", "472_125 kHz"]),
        pd.Series(["470 MHz", "470.4 MHz", "470.8", "472_125 kHz"]),
        [470_000_000, "470.4 MHz", 470.8 * MHz, np.int64(472_125_000)],
    ],
    ids=lambda values: type(values).__name__,
)
def test_columns_of_any_kind(values: Any) -> None:
    table = sidon.hit_counts(values, guards={"2A-B": "50 kHz"})
    assert table["frequency_hz"].tolist() == HERTZ
    assert table["frequency_hz"].dtype == np.int64
    assert table["2A-B"].tolist() == [1, 0, 1, 0]


def test_decimal_megahertz_times_the_unit_is_exact() -> None:
    # Every frequency of a 25 kHz raster over 470-608 MHz, as a float of megahertz.
    khz = range(470_000, 608_000, 25)
    table = sidon.hit_counts([(f / 1000) * MHz for f in khz], guards={})
    assert table["frequency_hz"].tolist() == [f * 1000 for f in khz]


@pytest.mark.parametrize(
    ("values", "place", "word"),
    [
        ([470_000_000, float("nan")], "frequencies_hz[1]", "not a number of hertz"),
        ([470_000_000, float("inf")], "frequencies_hz[1]", "not a number of hertz"),
        ([518.125, 519.0], "frequencies_hz[0]", "integer hertz"),
        ([518.0], "frequencies_hz[0]", "looks like MHz"),
        ([True], "frequencies_hz[0]", "truth value"),
        (["518.125 Mhz", "five"], "frequencies_hz[1]", "five"),
        ("518.125 MHz", "frequencies_hz", "single value"),
        (518_125_000, "frequencies_hz", "single value"),
        (None, "frequencies_hz", "NoneType"),
        ([None], "frequencies_hz[0]", "NoneType"),
        ([[1, 2], [3, 4]], "frequencies_hz[0]", "list"),
        (np.ones((2, 2), dtype=np.int64), "frequencies_hz", "2 dimensions"),
        (np.array([1 + 2j]), "frequencies_hz", "complex128"),
        (np.array(["2031-01-01"], dtype="datetime64[D]"), "frequencies_hz", "datetime64"),
        (np.ma.masked_array([1, 2], mask=[False, True]), "frequencies_hz", "masked"),
        (pd.Series([470_000_000, None], dtype="Int64"), "frequencies_hz[1]", "not a number"),
        ([10**30], "frequencies_hz[0]", "64-bit"),
        ([2**63], "frequencies_hz[0]", "64-bit"),
        (np.array([2**63], dtype=np.uint64), "frequencies_hz[0]", "64-bit"),
        ([10**15], "frequencies_hz[0]", "unit"),
    ],
    ids=str,
)
def test_bad_frequencies_name_the_place_and_the_remedy(values: Any, place: str, word: str) -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.hits(values, guards={"2A-B": 1})
    fault = caught.value.faults[0]
    assert fault.place == place
    assert word in str(fault)
    assert fault.remedy


def test_all_faults_come_together() -> None:
    carriers: list[int | float | str] = [470_000_000, float("nan"), "470.4 MHz", "x"]
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.hits(
            carriers,
            guards={"2A-B": -1, "A+B": 5, "3A-2B": float("nan"), "A+B-C": 1, "b+a-c": 2},
            threads=0,
        )
    places = [fault.place for fault in caught.value.faults]
    assert places == [
        "frequencies_hz[1]",
        "frequencies_hz[3]",
        "guards['2A-B']",
        "guards['A+B']",
        "guards['3A-2B']",
        "guards['b+a-c']",
        "threads",
    ]
    assert str(caught.value).startswith("7 faults in the input:\n  frequencies_hz[1]: ")


def test_a_long_list_of_faults_is_cut_and_counted() -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.hits(np.full(1000, np.nan), guards={})
    assert len(caught.value.faults) == 21
    assert "980 more values" in caught.value.faults[-1].what


def test_more_hits_than_can_be_listed_can_still_be_counted() -> None:
    carriers = range(1000)
    with pytest.raises(sidon.TooLargeError, match="hits"):
        sidon.hits(carriers, guards={"A+B-C": 10})
    assert sidon.hit_counts(carriers, guards={"A+B-C": 10})["A+B-C"].sum() > 10_000_000


def test_tables_go_to_data_frames_and_files(tmp_path: Any) -> None:
    table = sidon.hits(HERTZ, guards={"2A-B": 1})
    assert list(table) == ["form", "sources", "victim", "product_hz", "offset_hz"]
    assert pd.DataFrame(table)["victim"].tolist() == [0, 2]
    assert pl.DataFrame(table)["product_hz"].to_list() == [470_000_000, 470_800_000]
    path = tmp_path / "hits.csv"
    table.to_csv(path)
    assert path.read_text(encoding="utf-8") == (
        "form,sources,victim,product_hz,offset_hz\n2A-B,1 2,0,470000000,0\n2A-B,1 0,2,470800000,0\n"
    )
    assert "2A-B" in repr(table)
    assert "<td>2A-B</td>" in table._repr_html_()


def test_nothing_in_nothing_out() -> None:
    assert sidon.hits([], guards={"2A-B": 1}).n_rows == 0
    assert sidon.hits(HERTZ, guards={}).n_rows == 0
    assert list(sidon.hit_counts([], guards={"2A-B": 1})) == ["frequency_hz", "2A-B"]


@pytest.mark.parametrize("threads", [1, 2, 4])
def test_the_answer_does_not_depend_on_threads(threads: int) -> None:
    carriers = np.cumsum(np.arange(1, 80) % 7 + 3) * 25_000
    guards = {"2A-B": 60_000, "A+B-C": 30_000}
    alone = sidon.hits(carriers, guards=guards, threads=1)
    shared = sidon.hits(carriers, guards=guards, threads=threads)
    assert list(alone.rows()) == list(shared.rows())
