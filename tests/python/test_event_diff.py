"""What differs between two plans, told by hand-made changes of one."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import pytest

import sidon

Fields = dict[str, Any]


def edited(plan: sidon.Plan) -> Fields:
    return copy.deepcopy(plan.to_dict())


def row(fields: Fields, link: str) -> Fields:
    return next(row for row in fields["assignments"] if row["link"] == link)


def test_a_plan_does_not_differ_from_itself(small_plan: sidon.Plan) -> None:
    diff = small_plan.diff(sidon.Plan.from_dict(edited(small_plan)))
    assert diff.same
    assert diff.links == ()
    assert diff.columns().n_rows == 0
    assert diff.summary().endswith("none")


def test_every_kind_of_change_is_told_by_link(small_plan: sidon.Plan) -> None:
    fields = edited(small_plan)
    row(fields, "vox-2")["frequency_hz"] += 25_000
    row(fields, "vox-3")["priority"] = 4
    gone = row(fields, "host")
    fields["assignments"].remove(gone)
    fields["asked"]["required"].remove("host")
    lost = row(fields, "ears-1")
    fields["assignments"].remove(lost)
    fields["refused"].append(
        {key: value for key, value in lost.items() if key != "frequency_hz"} | {"reason": "none"}
    )
    fields["assignments"].append(gone | {"link": "choir", "priority": 3})
    fields["asked"]["required"].append("choir")
    diff = small_plan.diff(sidon.Plan.from_dict(fields))
    assert {kind: [r.link for r in diff.of(kind)] for kind, n in diff.counts().items() if n} == {
        "retuned": ["vox-2"],
        "added": ["choir"],
        "removed": ["host"],
        "refused": ["ears-1"],
        "rules": ["vox-3"],
    }
    assert diff.weights() == {
        "retuned": 1,
        "added": 3,
        "served": 0,
        "removed": 1,
        "refused": 1,
        "rules": 4,
    }
    (retuned,) = diff.retuned
    table = diff.columns()
    assert table["link"].tolist() == ["vox-2", "choir", "host", "ears-1", "vox-3"]
    assert table["shift_hz"].tolist() == [25_000, 0, 0, 0, 0]
    assert table["new_hz"].tolist()[2:4] == [-1, -1]
    assert str(retuned).endswith("MHz (+0.025)")
    back = sidon.Plan.from_dict(fields).diff(small_plan)
    assert [r.link for r in back.of("served")] == ["ears-1"]
    assert [r.link for r in back.of("added")] == ["host"]
    assert back.retuned[0].old_hz == retuned.new_hz
    assert str(back.retuned[0]).endswith("MHz (-0.025)")
    assert "<td>retuned</td><td>vox-2</td>" in diff._repr_html_()
    for text in ("Retuned (on another frequency):", "vox-3", "priority 1 -> 4", "choir"):
        assert text in diff.summary()


def test_rules_that_changed_are_told_for_the_plan_and_for_its_links(
    small_plan: sidon.Plan,
) -> None:
    fields = edited(small_plan)
    ears = next(profile for profile in fields["profiles"] if profile["name"] == "ears")
    ears["separation_hz"] = 350_000
    ears["guards_hz"]["A+B-C"] = 25_000
    fields["couplings"][0]["degree"] = "none"
    fields["incumbents"][0]["frequency_hz"] += 1_000_000
    # 470.1 to 475.9 MHz is one of the ranges: carriers stay half of 200 kHz inside the channel.
    assert [470_100_000, 475_900_000] in fields["availability"]["hand"]
    fields["availability"]["hand"][0] = [470_100_000, 472_000_000]
    diff = small_plan.diff(sidon.Plan.from_dict(fields))
    assert {r.link for r in diff.of("rules")} == {
        r.link for r in small_plan.assignments if r.profile == "ears"
    }
    assert diff.links[0].rules == (
        "separation 0.400 -> 0.350 MHz",
        "guard on A+B-C 0.000 -> 0.025 MHz",
    )
    assert diff.rules == (
        "profile 'ears': separation 0.400 -> 0.350 MHz, guard on A+B-C 0.000 -> 0.025 MHz",
        "'hand' may no longer stand in 472.000-475.900 MHz",
        "coupling of hall and yard: separation -> none",
        "foreign carrier 'news crew': 484.250 -> 485.250 MHz",
    )
    assert "may no longer stand" in diff.summary()


def test_is_a_plain_value(small_plan: sidon.Plan) -> None:
    fields = edited(small_plan)
    row(fields, "vox-2")["frequency_hz"] += 25_000
    diff = small_plan.diff(sidon.Plan.from_dict(fields))
    assert pickle.loads(pickle.dumps(diff)) == diff
    assert repr(diff) == "PlanDiff(1 retuned; 0 rules)"
    assert list(diff.frame()["link"]) == ["vox-2"]
    with pytest.raises(AttributeError):
        diff.old = "x"  # type: ignore[misc]


def test_what_is_no_plan_is_refused(small_plan: sidon.Plan) -> None:
    with pytest.raises(sidon.InvalidProblemError, match="no plan"):
        small_plan.diff("plan.json")
