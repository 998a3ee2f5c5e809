"""Frequencies in a study are read exactly, or refused with a remedy."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from sidon._quantity import read_hz
from sidon.units import mhz_text


@pytest.mark.parametrize(
    ("written", "hertz"),
    [
        ("518.125 MHz", 518_125_000),
        ("518.125", 518_125_000),
        (518.125, 518_125_000),
        (Decimal("518.125"), 518_125_000),
        (470, 470_000_000),
        ("350 kHz", 350_000),
        ("0.35", 350_000),
        (0.35, 350_000),
        ("1.8 GHz", 1_800_000_000),
        # UK licence-exempt channels (a set known to be free of third-order hits).
        (863.1, 863_100_000),
        (864.9, 864_900_000),
        # 0.1 + 0.2 is not 0.3 in binary; the text of each is exact.
        ("0.3", 300_000),
        (0, 0),
        (-1, -1_000_000),
    ],
)
def test_reads_exactly(written: object, hertz: int) -> None:
    assert read_hz(written) == hertz


@given(st.integers(min_value=1, max_value=99_999_999_999))
def test_text_float_and_decimal_agree_to_the_hertz(hertz: int) -> None:
    exact = Decimal(hertz) / 1_000_000
    assert read_hz(exact) == read_hz(float(exact)) == read_hz(f"{exact:f} MHz") == hertz
    assert read_hz(mhz_text(hertz)) == hertz


@pytest.mark.parametrize(
    ("written", "what", "remedy"),
    [
        (518_125_000, "looks like hertz", "write 518.125 MHz"),
        ("518125000", "looks like hertz", "write 518.125 MHz"),
        (518_125, "looks like hertz or kilohertz", "518.125 MHz if kilohertz"),
        (350_000, "looks like hertz or kilohertz", "0.350 MHz if hertz"),
        ("518125000 MHz", "100 GHz or more", "check the unit"),
        (float("nan"), "not a number", "518.125"),
        (Decimal("NaN"), "not a number", "518.125"),
        (float("inf"), "not a number", "518.125"),
        ("nan", "not a frequency", "518.125"),
        ("", "not a frequency", "518.125"),
        ("518,125", "comma", "point"),
        ("518.1250001", "finer than 1 Hz", "round it"),
        (0.000_000_1, "finer than 1 Hz", "518.125"),
        (True, "not a frequency", "518.125"),
        (None, "not a frequency", "518.125"),
        ([518], "not a frequency", "518.125"),
        (Decimal("1e999999"), "out of range", "518.125"),
        (Decimal("1e-999999"), "out of range", "518.125"),
        (10**40, "out of range", "518.125"),
        ("518 Mhx", "not a unit", "MHz"),
    ],
)
def test_refuses_with_a_remedy(written: object, what: str, remedy: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        read_hz(written)
    context = caught.value.context or {}
    assert what in context["what"]
    assert remedy in context["remedy"]
