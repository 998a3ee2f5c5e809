"""The plan: what it says, and that its own document is enough to check it."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import numpy as np
import pytest

import sidon
from sidon.plan.caution import cautions, is_in_ear
from sidon.plan.refusal import reason

Fields = dict[str, Any]


def changed(plan: sidon.Plan, place: str, value: object) -> Fields:
    fields = copy.deepcopy(plan.to_dict())
    *path, last = place.split(".")
    table: Any = fields
    for key in path:
        table = table[int(key) if key.isdigit() else key]
    table[int(last) if last.isdigit() else last] = value
    return fields


def test_serves_everyone_and_passes_its_check(small_plan: sidon.Plan) -> None:
    assert small_plan.complete
    assert small_plan.refused == []
    assert len(small_plan.assignments) == 13
    assert small_plan.check().hard == 0
    assert len(small_plan.hits()["form"]) == 0


def test_keeps_locks_and_foreign_carriers(small_plan: sidon.Plan) -> None:
    first = small_plan.assignments[0]
    assert (first.link, first.frequency_hz, first.locked) == ("vox-1", 470_500_000, True)
    (foreign,) = small_plan.document.incumbents
    assert (foreign.name, foreign.frequency_hz) == ("news crew", 484_250_000)


def test_separations_hold_when_recounted_by_hand(small_plan: sidon.Plan) -> None:
    # Both zones are coupled, so that all carriers keep the larger of two separations.
    rows = small_plan.assignments
    widths = {"hand": 350_000, "ears": 400_000}
    for i, a in enumerate(rows):
        for b in rows[:i]:
            least = max(widths[a.profile], widths[b.profile])
            assert abs(a.frequency_hz - b.frequency_hz) >= least


def test_products_miss_when_recounted_by_hand(small_plan: sidon.Plan) -> None:
    # 2A-B over all ordered pairs of one zone, on each third carrier; during the show all are on.
    guards = {"hand": 50_000, "ears": 100_000}
    for zone in ("hall", "yard"):
        rows = [row for row in small_plan.assignments if row.zone == zone]
        for a in rows:
            for b in rows:
                for victim in rows:
                    if len({a.link, b.link, victim.link}) == 3:
                        product = 2 * a.frequency_hz - b.frequency_hz
                        assert abs(product - victim.frequency_hz) >= guards[victim.profile]


@pytest.mark.parametrize(
    ("place", "value", "kind"),
    [
        ("assignments.1.frequency_hz", 470_600_000, "separation"),
        ("assignments.1.frequency_hz", 477_000_000, "off-domain"),  # occupied channel 15
        ("assignments.1.frequency_hz", 470_912_500, "off-domain"),  # between two raster points
        ("assignments.1.frequency_hz", 484_300_000, "separation"),  # beside the foreign carrier
        ("profiles.0.guards_hz", {"A+B-C": 900_000}, "hit"),
        ("profiles.0.separation_hz", 3_000_000, "separation"),
        ("availability.ears", [[494_100_000, 494_200_000]], "off-domain"),
    ],
)
def test_the_check_sees_a_document_that_was_changed(
    small_plan: sidon.Plan, place: str, value: object, kind: str
) -> None:
    plan = sidon.Plan.from_dict(changed(small_plan, place, value))
    with pytest.raises(sidon.CheckError) as caught:
        plan.check()
    assert kind in {violation.kind for violation in caught.value.violations}


def test_a_hit_is_listed_with_its_sources(small_plan: sidon.Plan) -> None:
    fields = changed(small_plan, "zones", ["hall"])
    fields["couplings"], fields["incumbents"] = [], []
    fields["asked"] = {"required": ["a", "b", "c"], "spares": []}
    # 2 x 471.000 - 470.500 = 471.500: the third of three equally spaced carriers is hit, and the
    # first by 2 x 471.000 - 471.500.
    always: list[str] = []
    fields["assignments"] = [
        fields["assignments"][0]
        | {"link": name, "zone": "hall", "frequency_hz": hz, "windows": windows}
        for name, hz, windows in (
            ("a", 470_500_000, always),
            ("b", 471_000_000, always),
            ("c", 471_500_000, always),
        )
    ]
    plan = sidon.Plan.from_dict(fields)
    table = plan.hits()
    found = set(zip(table["sources"].tolist(), table["victim"].tolist(), strict=True))
    assert found == {("b, a", "c"), ("b, c", "a")}
    assert set(table["offset_hz"].tolist()) == {0}
    with pytest.raises(sidon.CheckError):
        plan.check()
    # Never on the air together: no product forms, and the check agrees.
    fields["assignments"][1]["windows"] = ["rehearsal"]
    fields["assignments"][2]["windows"] = ["show"]
    apart = sidon.Plan.from_dict(fields)
    assert len(apart.hits()["form"]) == 0
    assert apart.check().hard == 0


def test_hits_with_a_margin_agree_with_a_plain_count(small_plan: sidon.Plan) -> None:
    margin = 400_000
    rows = [row for row in small_plan.assignments if row.zone == "hall"]
    guards = {"hand": 50_000, "ears": 100_000}
    expected = {
        (f"{a.link}, {b.link}", victim.link)
        for a in rows
        for b in rows
        for victim in rows
        if len({a.link, b.link, victim.link}) == 3
        and abs(2 * a.frequency_hz - b.frequency_hz - victim.frequency_hz)
        < guards[victim.profile] + margin
    }
    table = small_plan.hits(margin_hz=margin)
    two_tone = table["form"] == "2A-B"
    names = {row.link for row in rows}
    found = {
        pair
        for pair in zip(
            table["sources"][two_tone].tolist(), table["victim"][two_tone].tolist(), strict=True
        )
        if pair[1] in names
    }
    assert found == expected
    assert expected
    assert np.array_equal(small_plan.hits(margin_hz="400 kHz")["victim"], table["victim"])
    for bad in (-1, "-25 kHz", "wide", None, float("nan")):
        with pytest.raises(sidon.InvalidProblemError, match="margin_hz"):
            small_plan.hits(margin_hz=bad)  # type: ignore[arg-type]


def test_more_demand_than_room_is_refused_with_the_reason(study_fields: Fields) -> None:
    study_fields["demand"][2] |= {"count": 40, "priority": 1}
    plan = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=2_000)
    assert not plan.complete
    assert plan.refused
    # 494.1 to 499.9 MHz at 400 kHz holds at most fifteen.
    assert sum(row.profile == "ears" for row in plan.assignments) <= 15
    for lost in plan.refused:
        assert "candidate frequencies" in lost.reason
    assert plan.check().hard == 0
    assert plan.refused[0].link in plan.summary()
    assert plan.missing == [row.link for row in plan.refused if not row.spare]


def test_a_link_lost_from_the_document_is_missed(small_plan: sidon.Plan) -> None:
    fields = copy.deepcopy(small_plan.to_dict())
    lost = [fields["assignments"].pop(index)["link"] for index in (2, 1)]
    plan = sidon.Plan.from_dict(fields)
    assert plan.missing == lost[::-1] == ["vox-2", "vox-3"]
    assert not plan.complete
    assert "Served 8 of 10 required links and 3 of 3 spares" in plan.summary()
    # What is left breaks no rule; that something is left out is another matter.
    assert plan.check().hard == 0
    fields["assignments"] = [row for row in fields["assignments"] if not row["spare"]]
    assert len(sidon.Plan.from_dict(fields).missing) == 2


def test_spares_do_not_pass_for_required_links(small_plan: sidon.Plan) -> None:
    faults = [
        (
            changed(small_plan, "assignments.1.spare", value=True),
            "'vox-2' is asked for as a required",
        ),
        (changed(small_plan, "assignments.1.link", "vox-20"), "not among the links asked for"),
        (changed(small_plan, "asked", {"required": ["vox-1"]}), "'vox-2' is not among"),
        (changed(small_plan, "asked.spares", ["vox-1"]), "'vox-1' stands 2 times"),
    ]
    for fields, message in faults:
        with pytest.raises(sidon.PlanError, match=message):
            sidon.Plan.from_dict(fields)
    without = small_plan.to_dict()
    del without["asked"]
    with pytest.raises(sidon.PlanError, match="asked: the key 'asked' is missing"):
        sidon.Plan.from_dict(without)


def crowded(study_fields: Fields, count: int) -> sidon.Plan:
    study_fields["demand"][2] |= {"count": count, "priority": 1, "id": "in ear"}
    return sidon.Study.from_dict(study_fields).plan(seed=1, iterations=500)


def test_refusals_are_listed_without_breaking_a_name(study_fields: Fields) -> None:
    plan = crowded(study_fields, 60)
    lines = plan.refusal_lines()
    assert lines[0] == "Refused:"
    text = plan.summary()
    for lost in plan.refused:
        assert any(lost.link in line for line in lines), lost.link
        assert lost.link in text
    assert max(map(len, lines)) <= 100


def test_more_refusals_than_forty_lines_end_in_a_count(study_fields: Fields) -> None:
    plan = crowded(study_fields, 1000)
    lines = plan.refusal_lines()
    assert len(lines) == 42  # a heading, forty lines, a count
    listed = sum(any(f" {lost.link}," in line for line in lines) for lost in plan.refused)
    assert f"and {len(plan.refused) - listed} more links" in lines[-1]
    assert "--all-refusals" in lines[-1]
    every = plan.summary(all_refusals=True)
    assert all(lost.link in every for lost in plan.refused)
    assert "more links" not in every


def test_reasons_say_how_many_and_why() -> None:
    class Counts:
        candidates, by_separation, as_victim, as_source, clean = 5280, 3100, 1400, 780, 0

    assert reason(Counts()) == (
        "none of 5,280 candidate frequencies is clear: 3,100 too close to other carriers, "
        "1,400 would be hit by products, 780 would create products on others"
    )

    class Cut:
        candidates, by_separation, as_victim, as_source, clean = 10, 4, 0, 0, 6

    assert "the search ended before it placed this link; 6 of 10" in reason(Cut())


def test_the_same_seed_and_iterations_give_the_same_plan_on_any_threads(
    study_fields: Fields,
) -> None:
    study = sidon.Study.from_dict(study_fields)
    one = study.plan(seed=7, iterations=500, threads=1)
    assert study.plan(seed=7, iterations=500, threads=2) == one
    assert study.plan(seed=8, iterations=500, threads=2) != one
    # The same holds for what is written when not all can be served.
    study_fields["demand"][2] |= {"count": 40, "priority": 1}
    crowded = sidon.Study.from_dict(study_fields)
    written = [crowded.plan(seed=7, iterations=500, threads=n).to_dict() for n in (1, 2, 4)]
    assert written[0] == written[1] == written[2]


def test_survives_pickle_and_compares_by_value(small_plan: sidon.Plan) -> None:
    assert pickle.loads(pickle.dumps(small_plan)) == small_plan
    other = changed(small_plan, "study", "other")
    assert sidon.Plan.from_dict(other) != small_plan


def test_columns_and_frames_hold_the_same(small_plan: sidon.Plan) -> None:
    table = small_plan.columns()
    assert table["frequency_hz"].dtype == np.int64
    assert table["spare"].sum() == 3
    frame = small_plan.frame()
    assert list(frame["link"]) == table["link"].tolist()
    assert list(frame.columns) == list(table)


def test_a_frame_needs_a_library(small_plan: sidon.Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    polars = pytest.importorskip("polars")
    monkeypatch.setitem(__import__("sys").modules, "pandas", None)
    assert isinstance(small_plan.frame(), polars.DataFrame)
    monkeypatch.setitem(__import__("sys").modules, "polars", None)
    with pytest.raises(ImportError, match="columns\\(\\)"):
        small_plan.frame()


def test_prints_itself(small_plan: sidon.Plan) -> None:
    assert repr(small_plan) == "Plan('Small evening': 13 served, 0 refused)"
    assert "Served 10 of 10 required links and 3 of 3 spares" in small_plan.summary()
    assert "clear of 1 foreign carrier;" in small_plan.summary()
    page = sidon.Plan.from_dict(changed(small_plan, "study", "<script>"))._repr_html_()
    assert "<script>" not in page


def test_cautions_mention_hearing_where_there_are_in_ears(small_plan: sidon.Plan) -> None:
    assert any("hearing" in line for line in small_plan.document.caution)
    assert any("scan on site" in line for line in cautions(["handheld"]))
    assert not any("hearing" in line for line in cautions(["handheld"]))
    assert all(map(is_in_ear, ["in-ear transmitter", "In ear", "stereo IEM", "in-ears"]))
    assert not any(map(is_in_ear, ["handheld", "linear amplifier", "premium"]))
