"""Repairs: every plan is checked anew, and small ones are compared with all plans there are."""

from __future__ import annotations

import copy
import datetime as dt
import itertools
import pickle
import random
from typing import Any

import pytest
from event_cases import random_plan

import sidon
from sidon import MHz, event, kHz
from sidon.event.cover import cheapest_cover

Fields = dict[str, Any]


def hertz(plan: sidon.Plan) -> dict[str, int]:
    return {row.link: row.frequency_hz for row in plan.assignments}


@pytest.mark.parametrize("seed", range(8))
def test_every_repair_passes_the_check_and_keeps_what_is_locked(seed: int) -> None:
    rng = random.Random(seed)
    plan = random_plan(seed, foreign_hz=470_912_500)
    fields = plan.to_dict()
    locked = fields["assignments"][0]
    locked["locked"] = True
    plan = sidon.Plan.from_dict(fields)
    others = [row for row in plan.assignments if not row.locked]
    spot = rng.choice(others)
    for changes in (
        [event.Hit(spot.link, width="25 kHz")],
        [event.Hit(spot.link, everyone=False)],
        [event.Arrive("fine", "left", 2, windows=["noon"], priority=3)],
        [event.Leave(spot.link), event.Arrive("coarse", "far")],
        [event.Swap(spot.link, "coarse" if spot.profile == "fine" else "fine")],
        [event.Foreign("guest", spot.frequency_hz + 212_500, spot.zone, "fine", ["later"])],
        [event.Rules("fine", guards={"2A-B": "30 kHz"}, mixes=True)],
    ):
        try:
            repair = plan.repair(*changes, seed=seed, seconds=0.5)
        except sidon.InvalidProblemError as error:
            told = str(error)
        else:
            told = ""
        if told:
            # Only where what never moves is in its own way.
            assert "never move" in told
            continue
        after = repair.plan
        assert after.check().hard == 0
        if locked["link"] in hertz(after):
            assert hertz(after)[locked["link"]] == locked["frequency_hz"]
        moved = {
            link
            for link, hz in hertz(after).items()
            if link in hertz(plan) and hertz(plan)[link] != hz
        }
        assert moved == {row.link for row in repair.retuned}
        stay = set(hertz(plan)) - {spot.link} if isinstance(changes[0], event.Leave) else set()
        asked = after.document.asked
        assert {*hertz(after), *(r.link for r in after.refused)} == {*asked.required, *asked.spares}
        assert stay <= {*asked.required, *asked.spares}
        gone = len(moved) + len(set(hertz(plan)) & {row.link for row in repair.refused})
        assert gone >= repair.count_bound
        assert repair.weight >= repair.weight_bound or repair.refused
        if repair.proven:
            assert repair.weight == repair.weight_bound
            assert not repair.refused


def tiny(seed: int) -> tuple[sidon.Plan, event.Foreign]:
    """Return four links on 1.2 MHz, and a foreign carrier beside one of them; invented."""
    rng = random.Random(seed)
    study = sidon.Study.from_dict(
        {
            "format": "sidon-study/1",
            "name": "Tiny (invented)",
            "place": {"name": "Nowhere"},
            "availability": {"ranges": [[470, 471.2]]},
            "profiles": [
                {
                    "name": "hand",
                    "ranges": [[470, 471.2]],
                    "raster": "100 kHz",
                    "bandwidth": 0,
                    "separation": "100 kHz",
                    "guards": {"2A-B": "50 kHz"},
                }
            ],
            "zones": ["hall"],
            "demand": [
                {"ids": [f"mic-{i}"], "profile": "hand", "zone": "hall", "priority": 1 + i}
                for i in range(4)
            ],
        }
    )
    plan = study.plan(seed=seed, iterations=200)
    hz = rng.choice([row.frequency_hz for row in plan.assignments])
    return plan, event.Foreign("guest", hz + rng.choice((0, 100_000, -100_000)), "hall", "hand")


def sound(carriers: list[int]) -> bool:
    """Recount the two rules of the tiny plan: all distinct, and no carrier midway of two."""
    if len(set(carriers)) < len(carriers):
        return False
    on = set(carriers)
    return not any(2 * a - b in on for a, b in itertools.permutations(carriers, 2))


@pytest.mark.parametrize("seed", range(12))
def test_no_plan_of_all_there_are_moves_less(seed: int) -> None:
    plan, guest = tiny(seed)
    before = [row.frequency_hz for row in plan.assignments]
    places = range(470_000_000, 471_200_001, 100_000)
    least = min(
        (
            # Ten times the priority: nobody said who is on the air.
            sum(10 * (1 + i) for i in range(4) if chosen[i] != before[i])
            for chosen in itertools.permutations(places, 4)
            if sound([*chosen, int(guest.frequency)])
        ),
        default=None,
    )
    repair = plan.repair(guest, seconds=60)
    if least is None:
        assert repair.refused
        return
    assert not repair.refused
    assert repair.weight == least
    assert repair.weight_bound <= least


def test_a_repair_that_is_plain_needs_no_time(small_plan: sidon.Plan) -> None:
    repair = small_plan.repair(event.Hit("vox-2"), event.Arrive("hand", "yard"), seconds=1e-9)
    assert not repair.refused
    assert [row.link for row in repair.retuned] == ["vox-2"]


def test_nothing_moves_when_nothing_is_wrong(small_plan: sidon.Plan) -> None:
    repair = small_plan.repair()
    assert repair.proven
    assert repair.diff.links == ()
    assert repair.count_bound == repair.weight == 0
    assert small_plan.what_if().harmless
    assert "Nobody has to do anything" in repair.summary()


def test_of_two_links_in_conflict_the_lighter_one_moves(small_plan: sidon.Plan) -> None:
    at = hertz(small_plan)
    gap = abs(at["vox-2"] - at["vox-3"])
    fields = small_plan.to_dict()
    # Move one beside the other: too close, and both are free to move.
    for row in fields["assignments"]:
        if row["link"] == "vox-3":
            row["frequency_hz"] = at["vox-2"] + 25_000
    assert gap >= 350_000
    broken = sidon.Plan.from_dict(fields)
    with pytest.raises(sidon.CheckError):
        broken.check()
    for live, mover in ((["vox-3"], "vox-2"), (["vox-2"], "vox-3")):
        repair = broken.repair(on_air=live)
        assert [row.link for row in repair.retuned] == [mover]
        assert repair.proven
        assert repair.on_air == tuple(live)
    (heavy,) = broken.repair(weights={"vox-2": 9, "vox-3": 8}).retuned
    assert heavy.link == "vox-3"


def test_the_moment_tells_who_is_on_the_air(small_plan: sidon.Plan) -> None:
    # The ears are on from 20:00 to 23:30 only; everybody else always.
    show, noon = "2031-05-01T21:00", dt.datetime(2031, 5, 1, 12)
    ears = {row.link for row in small_plan.assignments if row.profile == "ears" and not row.spare}
    on = set(small_plan.repair(on_air=show).on_air)
    assert ears <= on
    assert on - ears == set(small_plan.repair(on_air=noon).on_air)
    hit = small_plan.repair(event.Hit("ears-2"), on_air=show)
    assert any("ears-2" in line and ", ON THE AIR [" in line for line in hit.call_lines())
    assert "1 of them on the air" in hit.summary() or len(hit.retuned) > 1


def test_a_blocked_range_is_left_and_remembered(small_plan: sidon.Plan) -> None:
    low = hertz(small_plan)["vox-2"] - 1 * MHz
    high = low + 2 * MHz
    if low < 470_600_000:  # vox-1 is locked to 470.5 MHz
        low = 470_600_000
    inside = [row for row in small_plan.assignments if low < row.frequency_hz < high]
    what = small_plan.what_if(event.Block(low, high))
    assert inside
    # Carriers keep half of 200 kHz outside.
    assert {row.link for row in inside} <= set(what.must)
    after = small_plan.repair(event.Block(low, f"{high} Hz", reason="outside broadcast")).plan
    for row in after.assignments:
        assert not low - 100_000 < row.frequency_hz < high + 100_000
    spectrum = after.document.spectrum
    assert spectrum is not None
    assert spectrum.exclusions[-1].reason == "outside broadcast"
    again = sidon.Plan.from_dict(copy.deepcopy(after.to_dict()))
    assert again.repair(event.Arrive("hand", "yard", 3), seconds=1).plan.check().hard == 0


def test_a_channel_lies_where_the_occupied_ones_tell(small_plan: sidon.Plan) -> None:
    # Channels of 6 MHz from 470: 16 is 482 to 488 MHz, where the study knows 15 and 17 only.
    after = small_plan.repair(event.Channel(16), seconds=1).document
    assert after.spectrum is not None
    assert [(row.channel, row.low_hz, row.high_hz) for row in after.spectrum.occupied][1] == (
        16,
        482 * MHz,
        488 * MHz,
    )
    assert not any(482 * MHz < row.frequency_hz < 488 * MHz for row in after.assignments)
    # 37 is 608 MHz and up; the spectrum ends at 500 MHz, in channel 18.
    for number in (37, 99, 14 - 2):
        with pytest.raises(sidon.InvalidProblemError, match="outside the spectrum of this plan"):
            small_plan.what_if(event.Channel(number))
    with pytest.raises(sidon.InvalidProblemError, match="give one of 14 to 18"):
        small_plan.repair(event.Channel(99))
    # Nothing changes for a channel that is known to be occupied.
    assert small_plan.repair(event.Channel(15)).diff.same


def test_interference_is_noted_for_all_who_share_the_air(small_plan: sidon.Plan) -> None:
    at = hertz(small_plan)
    repair = small_plan.repair(event.Hit("vox-2"))
    (guest,) = repair.document.incumbents[1:]
    assert (guest.name, guest.frequency_hz) == ("interference on vox-2", at["vox-2"])
    for row in repair.plan.assignments:
        assert abs(row.frequency_hz - at["vox-2"]) >= 350_000
    alone = small_plan.repair(event.Hit("vox-2", everyone=False, width="1 MHz"))
    assert alone.document.incumbents == small_plan.document.incumbents
    assert abs(hertz(alone.plan)["vox-2"] - at["vox-2"]) >= 1 * MHz
    twice = repair.plan.repair(event.Hit("vox-2"))
    assert twice.plan.check().hard == 0


def test_arrivals_leavers_and_other_equipment(small_plan: sidon.Plan) -> None:
    repair = small_plan.repair(
        event.Arrive("ears", "yard", 2, name="guest ears", priority=4, windows=["show"]),
        event.Leave(["vox-1", "host"]),
        event.Swap("guest", "ears"),
    )
    after = {row.link: row for row in repair.plan.assignments}
    assert {"guest ears-1", "guest ears-2"} <= set(after)
    assert after["guest"].profile == "ears"
    assert not {"vox-1", "host"} & {*after, *repair.document.asked.required}
    assert repair.diff.counts()["removed"] == 2
    assert repair.plan.check().hard == 0
    named = small_plan.repair(event.Arrive("ears", "yard")).diff.of("added")
    assert [row.link for row in named] == ["ears-4"]  # 1 to 3 are there already


def test_what_does_not_fit_is_refused_with_the_reason(small_plan: sidon.Plan) -> None:
    repair = small_plan.repair(event.Arrive("ears", "hall", 30), seconds=1)
    assert repair.refused
    assert not repair.proven
    assert "candidate frequencies" in repair.document.refused[0].reason
    assert "Without a carrier:" in repair.summary()
    nothing = small_plan.repair(event.Block(470 * MHz, 500 * MHz), event.Leave("vox-1"))
    assert nothing.plan.assignments == []
    assert {row.reason for row in nothing.document.refused} == {
        "nothing is left of what its profile can tune"
    }
    again = repair.plan.repair(event.Leave("ears-4"), retry_refused=True, seconds=1)
    assert len(again.plan.assignments) >= len(repair.plan.assignments) - 1


def test_comparing_with_a_plan_made_anew(small_plan: sidon.Plan) -> None:
    repair = small_plan.repair(event.Hit("ears-1"), compare=True, seconds=1)
    assert repair.replan is not None
    assert repair.replan.retuned >= len(repair.retuned)
    assert "A plan made anew would retune" in repair.summary()
    assert pickle.loads(pickle.dumps(repair)) == repair
    assert "retune" in repair._repr_html_()
    assert repr(repair).startswith("Repair(")


def test_ctrl_c_keeps_the_best_so_far(
    small_plan: sidon.Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    change = event.Arrive("ears", "hall", 30)

    def stop(*_arguments: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("sidon.event.retune.Retuner.push", stop)
    repair = small_plan.repair(change)
    assert repair.plan.stop_reason == "interrupted"
    assert len(repair.plan.assignments) >= len(small_plan.assignments)
    assert repair.plan.check().hard == 0
    # Before there is anything to keep, it is passed on.
    monkeypatch.setattr("sidon.event.retune.Retuner.settle", stop)
    with pytest.raises(KeyboardInterrupt):
        small_plan.repair(change)


def test_every_fault_of_the_changes_is_told_at_once(small_plan: sidon.Plan) -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        small_plan.repair(
            event.Block(526 * MHz, 518 * MHz),
            event.Block(518, 526),
            event.Block("wide", -5),
            event.Channel("last"),  # type: ignore[arg-type]
            event.Hit("vox2"),
            event.Arrive("hnd", "hal", 0, windows="show", priority=999),
            event.Leave("nobody"),
            event.Swap("vox-2", "drum"),
            event.Rules("hand", guards={"2A+B": 1}, separation=-1),
            event.Foreign("vox-2", 0.5, "hall", "hand", windows=["never"]),
            "a text",  # type: ignore[arg-type]
            event.Arrive("hand", "hall", name="vox"),
            event.Channel(99),
            event.Unlock("nobody"),
        )
    places = [fault.place for fault in caught.value.faults]
    assert places == [
        "changes[0]",
        "changes[1]",
        "changes[2].low",
        "changes[2].high",
        "changes[3]",
        "changes[4].link",
        "changes[5].profile",
        "changes[5].zone",
        "changes[5].windows",
        "changes[5].count",
        "changes[5].priority",
        "changes[6].links",
        "changes[7].profile",
        "changes[8].separation",
        "changes[8].guards['2A+B']",
        "changes[9].windows",
        "changes[9].frequency",
        "changes[9].name",
        "changes[10]",
        "changes[11].name",
        "changes[12]",
        "changes[13].links",
    ]
    assert all(fault.remedy for fault in caught.value.faults)


def test_a_locked_link_that_could_not_stay_is_told_with_a_remedy(small_plan: sidon.Plan) -> None:
    # vox-1 is locked to 470.5 MHz.
    for changes in (
        [event.Block(470 * MHz, 472 * MHz)],
        [event.Hit("vox-1", everyone=False)],
        [event.Swap("vox-1", "ears")],
    ):
        with pytest.raises(sidon.InvalidProblemError, match=r"locked link 'vox-1'.*Leave"):
            small_plan.repair(*changes)
        what = small_plan.what_if(*changes, repair=True)
        assert what.repair is None
        assert "vox-1" in what.must
        assert what.locked == ("vox-1",)
        assert "vox-1 (locked) may no longer stand on 470.500 MHz" in what.summary()
    for change in (event.Hit("vox-1"), event.Foreign("crew", 470.5 * MHz, "hall", "hand")):
        with pytest.raises(sidon.InvalidProblemError, match=r"never move.*add Unlock\('vox-1'\)"):
            small_plan.repair(change)
        what = small_plan.what_if(change)
        assert what.must == what.locked == ("vox-1",)
        assert what.count_bound == 1
        assert "until unlocked or dropped: vox-1" in what.summary()
        freed = small_plan.repair(change, event.Unlock("vox-1"))
        assert [row.link for row in freed.retuned] == ["vox-1"]
        assert not any(row.locked for row in freed.plan.assignments if row.link == "vox-1")
    assert small_plan.repair(event.Hit("vox-1"), event.Leave("vox-1")).proven


def test_bad_arguments_are_told_together(small_plan: sidon.Plan) -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        small_plan.repair(on_air=["vox2"], weights={"vox-2": 0, "nobody": 3})
    assert [fault.place for fault in caught.value.faults] == [
        "on_air",
        "weights['vox-2']",
        "weights",
    ]
    for bad in (0, float("nan"), "soon"):
        with pytest.raises(sidon.InvalidProblemError, match="seconds"):
            small_plan.repair(seconds=bad)  # type: ignore[arg-type]
    with pytest.raises(sidon.InvalidProblemError, match="date and time"):
        small_plan.repair(on_air="tonight")


def test_what_would_break_is_what_the_check_finds(small_plan: sidon.Plan) -> None:
    change = event.Rules("ears", separation=800 * kHz)
    what = small_plan.what_if(change, repair=True, seconds=1)
    fields = small_plan.to_dict()
    next(p for p in fields["profiles"] if p["name"] == "ears")["separation_hz"] = 800_000
    with pytest.raises(sidon.CheckError) as caught:
        sidon.Plan.from_dict(fields).check()
    assert sorted(b.text for b in what.breaches) == sorted(v.text for v in caught.value.violations)
    assert {breach.rule for breach in what.breaches} == {"separation"}
    assert what.repair is not None
    assert 1 <= what.count_bound <= len(what.repair.retuned) + len(what.repair.refused)
    assert what.columns().n_rows == len(what.frame()) == len(what.breaches)
    assert set(what.links) <= {*hertz(small_plan), "news crew"}
    assert "would break" in what.summary()
    assert "would break" in what._repr_html_()
    assert pickle.loads(pickle.dumps(what)) == what


def test_room_for_newcomers_is_counted(small_plan: sidon.Plan) -> None:
    what = small_plan.what_if(event.Arrive("hand", "yard", 2, name="press"))
    assert what.harmless
    assert [name for name, _ in what.newcomers] == ["press-1", "press-2"]
    placed = small_plan.repair(event.Arrive("hand", "yard", name="press"))
    assert placed.proven
    counts = {count for _, count in what.newcomers}
    # The count of a plain recount: put it on each candidate in turn.
    fields = placed.plan.to_dict()
    row = next(row for row in fields["assignments"] if row["link"] == "press-1")
    clear = 0
    for low, high in fields["availability"]["hand"]:
        for hz in range(low - (low - 470_000_000) % 25_000, high + 1, 25_000):
            row["frequency_hz"] = hz
            try:
                sidon.Plan.from_dict(fields).check()
            except sidon.CheckError:
                continue
            clear += 1
    assert counts == {clear}


@pytest.mark.parametrize("seed", range(20))
def test_the_cover_is_the_lightest_there_is(seed: int) -> None:
    rng = random.Random(seed)
    conflicts = [
        frozenset(rng.sample(range(9), rng.choice((1, 2, 2, 3, 4))))
        for _ in range(rng.randint(1, 14))
    ]
    weight = {i: rng.choice((1, 2, 5, 10)) for i in range(9)}
    found = cheapest_cover(conflicts, weight)
    subsets = itertools.chain.from_iterable(itertools.combinations(range(9), k) for k in range(10))
    least = min(sum(weight[i] for i in s) for s in subsets if all(c & set(s) for c in conflicts))
    assert found.weight == found.bound == least == sum(weight[i] for i in found.links)
    assert all(conflict & found.links for conflict in conflicts)
    hasty = cheapest_cover(conflicts, weight, most_nodes=1)
    assert hasty.bound <= least <= hasty.weight
    assert all(conflict & hasty.links for conflict in conflicts)
