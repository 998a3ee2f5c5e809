"""Links refused before a repair: served where that costs no retune, else refused for a reason."""

from __future__ import annotations

from typing import Any

import sidon
from sidon import event


def full_plan(count: int = 4, **fields: Any) -> sidon.Plan:
    """Plan microphones on 1 MHz, where 400 kHz of separation leaves room for three; invented."""
    return sidon.Study.from_dict(
        {
            "format": "sidon-study/1",
            "name": "Full (invented)",
            "place": {"name": "Nowhere"},
            "availability": {"ranges": [[518, 519]]},
            "profiles": [
                {
                    "name": "hand",
                    "ranges": [[518, 519]],
                    "raster": "25 kHz",
                    "bandwidth": "200 kHz",
                    "separation": "400 kHz",
                    "guards": {},
                }
            ],
            "zones": ["hall"],
            "demand": [{"id": "a", "count": count, "profile": "hand", "zone": "hall", **fields}],
        }
    ).plan(seed=1, iterations=2_000)


def hertz(plan: sidon.Plan) -> dict[str, int]:
    return {row.link: row.frequency_hz for row in plan.assignments}


def test_a_refused_link_is_served_once_there_is_room() -> None:
    plan = full_plan()
    (refused,) = plan.refused
    assert len(plan.assignments) == 3
    first, second, _ = hertz(plan)
    what = plan.what_if(event.Leave([first, second]))
    assert what.harmless
    # 33 places in 25 kHz steps, less those within 375 kHz of the carrier that stays.
    third = list(hertz(plan).values())[2]
    places = range(518_100_000, 518_900_001, 25_000)
    clear = sum(abs(hz - third) >= 400_000 for hz in places)
    assert what.waiting == ((refused.link, clear),)
    assert f"{refused.link} was refused before: {clear} clear frequencies now" in what.summary()
    assert plan.what_if().waiting == ()
    repair = plan.repair(event.Leave([first, second]))
    assert refused.link in hertz(repair.plan)
    assert not repair.plan.refused
    assert not repair.retuned
    assert [row.link for row in repair.diff.of("served")] == [refused.link]
    assert f"{refused.link}: start on " in repair.summary()


def test_who_has_waited_goes_before_who_counts_no_more() -> None:
    plan = full_plan()
    (refused,) = plan.refused
    leave = event.Leave(next(iter(hertz(plan))))
    for priority, winner in ((1, refused.link), (2, "late-1")):
        arrive = event.Arrive("hand", "hall", priority=priority, name="late")
        repair = plan.repair(leave, arrive, seconds=1)
        assert winner in hertz(repair.plan)
        assert len(hertz(repair.plan)) == 3
    heavy = full_plan(priority=3)
    (refused,) = heavy.refused
    arrive = event.Arrive("hand", "hall", priority=2, name="late")
    repair = heavy.repair(event.Leave(next(iter(hertz(heavy)))), arrive, seconds=1)
    assert refused.link in hertz(repair.plan)
    assert [row.link for row in repair.refused] == ["late-1"]
    assert not repair.proven


def test_reasons_are_those_of_the_new_plan() -> None:
    plan = full_plan(6)
    before = {row.link: row.reason for row in plan.refused}
    assert len(before) == 3
    # Carriers in 518.3-518.7 MHz are kept off: of 33 places (518.1 to 518.9) those of the first
    # and of the last 100 kHz stay, five each.
    repair = plan.repair(event.Block("518.3 MHz", "518.7 MHz"), seconds=1)
    after = {row.link: row.reason for row in repair.plan.refused}
    assert set(before) <= set(after)
    assert all("none of 10 candidate frequencies is clear" in why for why in after.values())


def test_others_are_retuned_for_a_refused_link_only_when_asked() -> None:
    fields = full_plan(2).to_dict()
    # Two carriers that leave no room of 400 kHz between or beside them.
    for row, hz in zip(fields["assignments"], (518_400_000, 518_750_000 + 50_000), strict=True):
        row["frequency_hz"] = hz
    row = {k: v for k, v in fields["assignments"][0].items() if k != "frequency_hz"}
    fields["asked"]["required"].append("late")
    fields["refused"] = [row | {"link": "late", "reason": "invented"}]
    plan = sidon.Plan.from_dict(fields)
    plan.check()
    still = plan.repair(seconds=1)
    assert hertz(still.plan) == hertz(plan)
    assert still.proven
    assert [row.link for row in still.plan.refused] == ["late"]
    assert "none of 33 candidate frequencies is clear" in still.plan.refused[0].reason
    asked = plan.repair(retry_refused=True, seconds=1)
    assert "late" in hertz(asked.plan)
    assert asked.retuned
