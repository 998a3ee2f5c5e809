"""How many fit: facts of the trade, lists that keep the rules, one answer for one budget."""

from __future__ import annotations

import dataclasses
import pickle
from typing import Any

import numpy as np
import pytest
from capacity_cases import answer, broken_rules, question

import sidon
from sidon import MHz, kHz
from sidon.capacity.case import Case, Foreign, Found, settled

GUARDS = {"2A-B": 100 * kHz, "A+B-C": 100 * kHz}


def test_a_tv_channel_of_6_mhz_holds_exactly_eight() -> None:
    # Computed by an independent exhaustive search: 350 kHz apart, both guards 100 kHz, carriers at
    # least 100 kHz inside the channel.
    found = answer(question())
    (row,) = found.rows
    assert (row.fits, row.upper_bound, row.proof) == (8, 8, "exhaustion")
    assert (row.free_hz, row.unchecked_hz, row.candidates) == (6 * MHz, 0, 233)
    assert (row.asked, row.spares, row.later) == (5, 1, 7)
    assert (row.headroom, row.headroom_later) == (2, 1)
    assert row.verdict == "comfortable"
    # By the same search nine stand in 3.5 MHz once three-tone products are waived.
    waived = next(c for c in found.what_ifs if c.case == "guards on A+B-C waived")
    assert waived.fits >= 9
    assert waived.change == waived.fits - 8
    assert len(waived.frequencies_hz) == waived.fits


def test_every_list_to_tune_keeps_the_rules_and_stands_in_what_is_free() -> None:
    found = answer(question())
    lists = [("as it is", row.fits, row.upper_bound, row.frequencies_hz) for row in found.rows]
    lists += [(c.case, c.fits, c.upper_bound, c.frequencies_hz) for c in found.what_ifs]
    assert len(lists) == 5
    for case, fits, bound, tuned in lists:
        assert len(tuned) == fits <= bound
        guards = {"2A-B": 100 * kHz} if "waived" in case else GUARDS
        assert tuned == () or broken_rules(tuned, 350 * kHz, guards) == 0
        assert all(470.1e6 <= hz <= 475.9e6 and hz % 25_000 == 0 for hz in tuned)


def test_a_channel_more_on_the_air_is_tried_in_turn_or_by_name() -> None:
    fields = question()
    fields["availability"]["occupied"] = [15]
    cases = {c.case: c for c in answer(fields).what_ifs}
    assert {"channel 14 on the air", "channel 16 on the air"} <= set(cases)
    assert "channel 15 on the air" not in cases  # it is
    # What is left is one channel of 6 MHz.
    assert cases["channel 14 on the air"].fits == cases["channel 16 on the air"].fits == 8
    assert all(c.change < 0 for name, c in cases.items() if name.startswith("channel"))
    fields["capacity"] |= {"channels": [16], "waive": [], "edge_guards": ["250 kHz"]}
    names = [c.case for c in answer(fields).what_ifs]
    assert names == ["channel 16 on the air", "edge guard 0.250 MHz"]
    assert answer(fields, what_if=False).what_ifs == ()


@pytest.mark.parametrize("seed", range(3))
def test_a_wider_tuning_range_never_fits_fewer(seed: int) -> None:
    # common practice
    fields = question()
    fields["availability"] |= {"ranges": [[470, 494]], "occupied": [15]}
    bands = {"a": [470, 476], "b": [470, 484], "c": [482, 488], "d": [470, 488], "e": [470, 494]}
    del fields["profiles"][0]["ranges"]
    fields["profiles"][0]["bands"] = bands
    # So little that the wide ranges are hardly searched at all.
    rows = answer(fields, seed=seed, iterations=5, what_if=False).rows
    fits = {row.band: row.fits for row in rows}
    bounds = {row.band: row.upper_bound for row in rows}
    for number in (fits, bounds):
        assert number["a"] <= number["b"] <= number["d"] <= number["e"]
        assert number["c"] <= number["d"]


@pytest.mark.parametrize("seed", range(3))
def test_digital_operation_never_fits_fewer(seed: int) -> None:
    # common practice: the same distance between carriers, guards no wider
    fields = question(capacity={"ask": 4})
    fields["availability"]["occupied"] = [15]
    span = {"ranges": [[470, 488]]}
    fields["profiles"] = [
        {"name": "digital", "class": "standard-digital", **span},
        {"name": "analogue", "class": "narrow-analogue", **span},
    ]
    digital, analogue = answer(fields, seed=seed, iterations=4, what_if=False).rows
    assert digital.fits >= analogue.fits > 0
    assert digital.upper_bound >= analogue.upper_bound


def test_an_answer_that_was_not_searched_takes_what_others_found() -> None:
    wide = np.arange(470 * MHz, 480 * MHz, 25 * kHz)
    narrow = wide[:100]
    guards = (("2A-B", 50 * kHz), ("A+B-C", 50 * kHz))
    digital = Case("digital", wide, 350 * kHz, guards[:1])
    analogue = Case("analogue", narrow, 350 * kHz, guards)
    apart = Case("apart", wide, 300 * kHz, guards)
    some = narrow[[0, 20, 50]]
    found = settled(
        [digital, analogue, apart],
        [Found(bound=20, proof="separation"), Found(some, 30, "separation"), Found(bound=9)],
    )
    assert [answer.size for answer in found] == [3, 3, 3]
    # The wider range with looser rules bounds the other; the 9 say nothing of the digital one.
    assert [answer.bound for answer in found] == [20, 9, 9]


def test_rules_are_compared_beside_foreign_carriers_too() -> None:
    hz = np.arange(470 * MHz, 471 * MHz, 25 * kHz)
    near = Foreign(472 * MHz, 350 * kHz, (("2A-B", 50 * kHz),), mixes=True)
    mild = dataclasses.replace(near, guards=())
    alone = Case("alone", hz, 1, ())
    beside = Case("beside", hz, 1, (), foreign=(near,))
    assert beside.stricter_than(alone)
    assert not alone.stricter_than(beside)
    assert beside.stricter_than(dataclasses.replace(beside, foreign=(mild,)))
    assert not dataclasses.replace(beside, foreign=(mild,)).stricter_than(beside)
    # Transmitters that make no products keep more rules by themselves.
    guarded = Case("guarded", hz, 1, (("2A-B", 1),))
    silent = dataclasses.replace(guarded, mixes=False)
    assert guarded.stricter_than(silent)
    assert not silent.stricter_than(guarded)


def test_foreign_carriers_take_their_share() -> None:
    fields = question(zones=["hall"])
    fields["incumbents"] = [
        {"name": "crew", "frequency": 473, "zone": "hall", "profile": "hand"},
    ]
    (row,) = answer(fields, what_if=False).rows
    assert 5 <= row.fits <= 7
    foreign = [(473 * MHz, 350 * kHz, GUARDS)]
    assert broken_rules(row.frequencies_hz, 350 * kHz, GUARDS, foreign=foreign) == 0
    # One more would break a rule beside the carrier that is there.
    assert broken_rules((472_800_000,), 350 * kHz, GUARDS, foreign=foreign) == 1


def mixed() -> dict[str, Any]:
    fields = question(zones=["hall"])
    del fields["capacity"]
    fields["availability"]["occupied"] = [15]
    fields["profiles"].append(
        fields["profiles"][0] | {"name": "ears", "kind": "in-ear transmitter"}
    )
    fields["demand"] = [
        {"id": "vox", "count": 5, "profile": "hand", "zone": "hall"},
        {"id": "ears", "count": 3, "profile": "ears", "zone": "hall"},
    ]
    return fields


def test_a_mix_leaves_less_and_both_lists_keep_the_rules_together() -> None:
    found = answer(mixed())
    (mix,) = found.mixes
    assert (mix.first, mix.first_asked, mix.first_fits) == ("hand", 5, 5)
    assert 3 <= mix.fits <= mix.alone - 5 + 2
    both = (*mix.first_frequencies_hz, *mix.frequencies_hz)
    assert len(set(both)) == mix.first_fits + mix.fits
    assert broken_rules(both, 350 * kHz, GUARDS) == 0
    assert any("hearing" in note for note in found.notes)
    assert any("a block of their own" in note for note in found.notes)


def test_a_mix_with_one_kind_that_has_no_frequency_is_the_other_alone() -> None:
    fields = question(capacity={"ask": 5, "in_ears": {"stereo": 2}})
    ears = {"name": "ears", "kind": "in-ear transmitter", "ranges": [[477, 481]]}
    fields["profiles"].append(fields["profiles"][0] | ears)
    fields["capacity"]["mixes"] = [["hand", "ears"], ["ears", "hand"]]
    found = answer(fields, what_if=False)
    dry, full = found.mixes
    # Five and their spare, which is a fifth by assumption.
    assert (dry.first_fits, dry.fits, dry.verdict) == (6, 0, "too few")
    assert (full.first_fits, full.fits, full.verdict) == (0, 8, "too few")
    assert not found.enough


def test_a_raster_too_fine_to_hold_is_refused_with_a_remedy() -> None:
    fields = question()
    fields["profiles"][0]["raster"] = "1 Hz"
    with pytest.raises(sidon.TooLargeError, match="coarser raster"):
        answer(fields)


def test_mixes_are_those_that_are_named() -> None:
    fields = mixed() | {"capacity": {"mixes": [["ears", "hand"]]}}
    (mix,) = answer(fields, what_if=False).mixes
    assert (mix.first, mix.second, mix.asked) == ("ears", "hand", 5)


def test_a_range_nobody_has_looked_at_is_not_called_free() -> None:
    fields = question()
    fields["profiles"][0]["ranges"] = [[470, 476], [600, 606]]
    first, dark, both = answer(fields, what_if=False).rows
    assert (first.band, dark.band, both.band) == ("470-476", "600-606", "all")
    assert dark.verdict == "cannot be told: not checked spectrum"
    assert (dark.fits, dark.unchecked_hz) == (0, 6 * MHz)
    assert both.fits == 8
    assert "6 of 12 MHz are not checked" in both.reason
    # Too few in what is known does not settle it while there is more to look at.
    fields["capacity"]["ask"] = 30
    assert answer(fields, what_if=False).rows[2].verdict == dark.verdict


def test_the_first_question_needs_a_place_and_a_number() -> None:
    fields = question(capacity={"ask": 4, "in_ears": {"stereo": 1, "mono": 3}})
    del fields["profiles"]
    study = sidon.Study.from_dict(fields)
    assert sidon.Study.from_dict(study.to_dict()) == pickle.loads(pickle.dumps(study)) == study
    found = study.capacity(iterations=300)
    assert {row.profile for row in found.rows} == set(sidon.classes())
    assert {row.asked for row in found.rows if row.in_ear} == {3}
    assert {row.asked for row in found.rows if not row.in_ear} == {4}
    assert all(row.generic for row in found.rows)
    assert any("invented" in note for note in found.notes)
    assert any("25 % in 3 years is assumed" in note for note in found.notes)
    assert found.enough
    assert len(found.mixes) == 1
    fields["capacity"]["mixes"] = [["in-ear-analogue", "standard-digital"]]
    (mix,) = answer(fields, what_if=False).mixes
    assert (mix.first, mix.first_fits, mix.second) == ("in-ear-analogue", 4, "standard-digital")
    with pytest.raises(sidon.StudyError, match="asks how many fit"):
        study.plan()


def test_classes_are_listed_by_name_beside_the_profiles() -> None:
    found = answer(question(), classes=["vhf", "wide-analogue"], what_if=False)
    assert list(dict.fromkeys(row.profile for row in found.rows)) == [
        "hand",
        "vhf",
        "wide-analogue",
    ]
    with pytest.raises(sidon.InvalidProblemError, match="did you mean 'vhf'"):
        answer(question(), classes="vfh")
    with pytest.raises(sidon.InvalidProblemError, match="seconds"):
        answer(question(), seconds=-1)


def test_threads_do_not_change_the_answer() -> None:
    one, two = (answer(mixed(), threads=threads, iterations=2_000) for threads in (1, 2))
    assert one == two
    assert one.stop_reason == "iteration-limit"


def test_progress_ends_the_work_with_what_there_is() -> None:
    seen: list[Any] = []

    def stop(moment: Any) -> bool:
        seen.append(moment)
        return len(seen) > 3

    found = answer(mixed(), progress=stop)
    assert found.stop_reason == "interrupted"
    assert len(found.rows) == 2
    assert all(row.fits <= row.upper_bound for row in found.rows)
    assert (seen[0].done, seen[0].total) == (0, 2)
    assert "hand" in seen[0].label


def test_a_time_limit_is_kept_to_roughly() -> None:
    # No timing: only that it ends for its time, and has answered everything.
    found = sidon.Study.from_dict(mixed()).capacity(seconds=0.05)
    assert found.stop_reason == "time-limit"
    assert all(row.fits for row in found.rows)
    assert found.mixes
