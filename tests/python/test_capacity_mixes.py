"""Two kinds in one air: with their spares, now and after growth, and what is proved of both."""

from __future__ import annotations

import csv
import itertools
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from capacity_cases import answer, question

from sidon import MHz, kHz
from sidon.capacity.case import Case, Found
from sidon.capacity.mixing import together
from sidon.cli import main

Fields = dict[str, Any]


def slots(capacity: Fields, *, in_ears: Fields | None = None) -> Fields:
    """Ask for two kinds without guards in 12 MHz, which holds 24 carriers; all invented.

    Arithmetic: 200 kHz wide and 500 kHz apart, so 11.8 MHz hold 1 + 11.8 / 0.5 = 24.
    """
    fields = question(capacity=capacity)
    fields["availability"] = {"ranges": [[506, 518]], "source": "invented"}
    plain = fields["profiles"][0] | {"ranges": [[506, 518]], "separation": "500 kHz", "guards": {}}
    ears = plain | {"name": "ears", "kind": "in-ear transmitter"} | (in_ears or {})
    fields["profiles"] = [plain, ears]
    return fields


@pytest.mark.parametrize(
    ("spares", "growth", "now", "later", "verdict", "enough"),
    [
        # 14 and 6 asked in 24 slots; a fifth more is 17 and 8: one too many.
        ("20 %", "50 %", "too few", "too few", "tight", False),
        # 14 + 2 and 6 + 2 are exactly 24, which is tight (common practice).
        (2, 0, "fits", "fits", "tight", True),
        (1, 1, "fits", "fits", "comfortable", True),
        (1, 2, "fits", "too few", "enough now, too few later", True),
    ],
)
def test_both_kinds_bring_their_spares_and_their_growth(
    *, spares: Any, growth: Any, now: str, later: str, verdict: str, enough: bool
) -> None:
    ask = {"ask": 14, "in_ears": {"stereo": 6}, "spares": spares, "growth": growth}
    found = answer(slots(ask), what_if=False, iterations=4_000)
    (mix,) = found.mixes
    assert [row.fits for row in found.rows] == [24, 24]
    assert mix.together_bound == 24
    assert (mix.now, mix.in_years, found.enough) == (now, later, enough)
    assert mix.verdict == verdict
    for first, second in (
        (mix.first_frequencies_hz, mix.frequencies_hz),
        (mix.later_first_frequencies_hz, mix.later_frequencies_hz),
    ):
        both = sorted((*first, *second))
        assert all(b - a >= 500 * kHz for a, b in itertools.pairwise(both))


def test_what_cannot_fit_in_one_air_is_exit_code_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ask = {"ask": 14, "in_ears": {"stereo": 11}, "spares": 0, "growth": 0}
    path = tmp_path / "study.json"
    path.write_text(json.dumps(slots(ask)), encoding="utf-8")
    options = ["--iterations", "400", "--quiet", "--no-what-if", "--csv", str(tmp_path / "c.csv")]
    assert main(["capacity", str(path), *options]) == 1
    text = " ".join(capsys.readouterr().out.split())
    assert "In one air, spares included: hand 506-518 and ears 506-518: too few." in text
    assert "14 hand and 11 ears wanted" in text
    assert "too few, no more than 24 of 25 can" in text
    assert "in 3 years: 14 hand and 11 ears wanted: too few" in text
    with (tmp_path / "c.csv").open(encoding="utf-8", newline="") as file:
        mix = next(row for row in csv.DictReader(file) if row["what"] == "mix")
    assert (mix["asked"], mix["spares"], mix["later"], mix["verdict"]) == (
        "11",
        "0",
        "11",
        "too few",
    )


def test_what_is_not_checked_rules_nothing_out() -> None:
    ask = {"ask": 14, "in_ears": {"stereo": 11}, "spares": 0, "growth": 0}
    fields = slots(ask, in_ears={"ranges": [[506, 518], [700, 706]]})
    (mix,) = answer(fields, what_if=False).mixes
    assert mix.now == mix.verdict == "not found"


def test_kinds_that_never_share_the_air_are_no_mix() -> None:
    fields = slots({})
    del fields["capacity"]
    fields |= {"zones": ["hall", "barn"], "default_coupling": "none"}
    fields["demand"] = [
        {"id": "vox", "count": 20, "profile": "hand", "zone": "hall"},
        {"id": "ears", "count": 20, "profile": "ears", "zone": "barn"},
    ]
    found = answer(fields, what_if=False)
    assert found.mixes == ()
    assert found.enough
    fields["default_coupling"] = "separation"
    found = answer(fields, what_if=False)
    assert found.mixes[0].now == "too few"
    assert not found.enough


def test_two_profiles_of_a_kind_that_is_asked_for_without_demand_are_alternatives() -> None:
    fields = slots({"ask": 14, "spares": 0, "growth": 0}, in_ears={"kind": "microphone"})
    fields["profiles"][1]["name"] = "head"
    found = answer(fields, what_if=False)
    assert found.mixes == ()
    assert found.enough


def test_a_bound_of_both_holds_for_the_milder_of_their_rules() -> None:
    wide = np.arange(470 * MHz, 472 * MHz, 100 * kHz)
    guards = (("2A-B", 100 * kHz),)
    a = Case("a", wide[:15], 300 * kHz, guards)
    b = Case("b", wide[5:], 400 * kHz, (("2A-B", 50 * kHz), ("A+B-C", 50 * kHz)))
    # 20 points of 100 kHz, every third: by separation alone.
    assert together(a, b, []) == 7
    # A bound of milder rules over both holds; one of a part, or of stricter rules, says nothing.
    mild = Case("mild", wide, 300 * kHz, (("2A-B", 50 * kHz),))
    part = Case("part", wide[:15], 300 * kHz, ())
    strict = Case("strict", wide, 500 * kHz, ())
    known = [(part, Found(bound=2)), (strict, Found(bound=1))]
    assert together(a, b, known) == 7
    assert together(a, b, [*known, (mild, Found(bound=5))]) == 5
    # Transmitters without products of their own keep no guards among themselves.
    silent = Case("b", b.candidates, b.separation, b.guards, mixes=False)
    assert together(a, silent, [(mild, Found(bound=5))]) == 7
