"""The pictures of zones, time and reuse: what they show is what the plan says, at any size."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.collections import LineCollection, QuadMesh
from zoned_event import zoned_event

import sidon
from sidon.plan.recount import carriers
from sidon.view.bands import rows
from sidon.view.marks import PALETTE
from sidon.view.moments import moment, pieces, steps
from sidon.view.reuse import reuse, shared
from sidon.view.strips import groups
from sidon.view.timeline import timeline
from sidon.view.zone_map import zone_map

NEW = ("zones", "timeline", "reuse")


@pytest.fixture(scope="module")
def large_plan() -> sidon.Plan:
    return sidon.Study.from_dict(zoned_event()).plan(seed=1, iterations=1_000)


def strokes(figure: Any) -> int:
    found = [c for axes in figure.axes for c in axes.collections if isinstance(c, LineCollection)]
    return sum(len(c.get_segments()) for c in found)


def test_the_map_has_a_stroke_for_each_carrier(
    small_plan: sidon.Plan, large_plan: sidon.Plan
) -> None:
    for plan in (small_plan, large_plan):
        assert strokes(zone_map(plan)) == len(carriers(plan.document))
    assert len(large_plan.assignments) > 700


def test_the_map_names_zones_and_units(small_plan: sidon.Plan) -> None:
    figure = zone_map(small_plan)
    first = figure.axes[0]
    assert [label.get_text() for label in first.get_yticklabels()] == ["hall  (10)", "yard  (3)"]
    assert figure.axes[-1].xaxis.get_label().get_text() == "frequency (MHz)"
    labels = {text.get_text() for text in figure.legends[0].get_texts()}
    assert labels == {"hand", "ears", "spare (half)", "foreign", "occupied TV channel"}


def test_steps_count_who_is_on_the_air(large_plan: sidon.Plan) -> None:
    document = large_plan.document
    spans = {w.name: (w.start, w.end) for w in document.windows}
    for step in steps(document):
        now = moment(step.start)
        on = {
            row.link
            for row in document.assignments
            if not row.windows or any(spans[w][0] <= now < spans[w][1] for w in row.windows)
        }
        assert {carrier.name for carrier in step.on_air} == on


def test_long_pauses_are_left_out(large_plan: sidon.Plan) -> None:
    found = steps(large_plan.document)
    days = pieces(found, lambda step: not step.on_air)
    assert len(days) == 3
    assert moment(days[0][0]) == dt.datetime(2031, 7, 4, 11)
    assert moment(days[0][1]) == dt.datetime(2031, 7, 4, 23, 30)


def test_the_timeline_shows_counts_by_zone(small_plan: sidon.Plan) -> None:
    figure = timeline(small_plan)
    meshes = [c for axes in figure.axes for c in axes.collections if isinstance(c, QuadMesh)]
    shown = meshes[0].get_array()
    assert shown is not None
    np.testing.assert_array_equal(np.ma.filled(shown, 0), [[10], [3]])
    labels = [axes.xaxis.get_label().get_text() for axes in figure.axes]
    assert "local time" in labels
    assert {axes.yaxis.get_label().get_text() for axes in figure.axes} >= {
        "links on the air",
        "zone",
    }


def test_the_timeline_of_a_plan_without_windows_says_always(study_fields: dict[str, Any]) -> None:
    study_fields["demand"] = study_fields["demand"][:2]
    plan = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=500)
    figure = timeline(plan)
    ticks = {text.get_text() for axes in figure.axes for text in axes.get_xticklabels()}
    assert "always" in ticks


def test_the_time_zone_stands_beside_the_axis(study_fields: dict[str, Any]) -> None:
    study = sidon.Study.from_dict({**study_fields, "timezone": "Europe/Paris"})
    figure = timeline(study.plan(seed=1, iterations=500))
    labels = [axes.xaxis.get_label().get_text() for axes in figure.axes]
    assert "local time (Europe/Paris)" in labels


def test_reuse_is_counted_as_plain_loops_count_it(large_plan: sidon.Plan) -> None:
    document = large_plan.document
    size = {profile.name: profile.separation_hz for profile in document.profiles}
    zones = document.zones
    plain = np.zeros((len(zones), len(zones)), dtype=np.int64)
    own = document.assignments
    for row in own:
        near = {
            other.zone
            for other in own
            if other is not row
            and abs(other.frequency_hz - row.frequency_hz)
            < max(size[row.profile], size[other.profile])
        }
        for zone in near:
            plain[zones.index(row.zone), zones.index(zone)] += 1
    np.testing.assert_array_equal(shared(document), plain)
    assert plain.max() > 5


def test_nothing_is_shared_where_all_share_the_air_at_all_times(
    study_fields: dict[str, Any],
) -> None:
    plan = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=500)
    assert shared(plan.document).sum() == 0
    figure = reuse(plan)
    texts = {text.get_text() for axes in figure.axes for text in axes.texts}
    assert {"F", "S"} <= texts


def test_more_profiles_than_colours_share_a_grey(study_fields: dict[str, Any]) -> None:
    count = len(PALETTE) + 3
    hand, row = study_fields["profiles"][0], study_fields["demand"][1]
    study_fields["profiles"] = [{**hand, "name": f"p{i}"} for i in range(count)] + [hand]
    study_fields["demand"] += [
        {**row, "ids": [f"a{i}"], "id": f"a{i}", "profile": f"p{i}", "spares": 0}
        for i in range(count)
    ]
    study_fields["demand"] = study_fields["demand"][:2] + study_fields["demand"][3:]
    plan = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=5_000)
    found = groups(plan.document)
    assert len({group.colour for group in found}) == len(found) == len(PALETTE) + 1
    assert found[-1].label == "other (4 profiles)"
    shown = {name for group in found for name in group.profiles}
    assert shown == {row.profile for row in plan.assignments}


@pytest.mark.parametrize("kind", NEW)
@pytest.mark.parametrize("ending", ["png", "pdf", "svg"])
def test_one_plan_gives_one_file(
    kind: str, ending: str, small_plan: sidon.Plan, tmp_path: Path
) -> None:
    paths = [tmp_path / f"{n}.{ending}" for n in "ab"]
    for path in paths:
        small_plan.picture(path, kind=kind)
    assert paths[0].read_bytes() == paths[1].read_bytes()
    with pytest.raises(ValueError, match="cannot draw"):
        small_plan.picture(tmp_path / "a.gif", kind=kind)


@pytest.mark.parametrize("kind", NEW)
def test_a_large_plan_can_be_drawn(kind: str, large_plan: sidon.Plan, tmp_path: Path) -> None:
    large_plan.picture(tmp_path / "large.png", kind=kind)
    assert (tmp_path / "large.png").stat().st_size > 20_000
    assert len(rows(large_plan.document)) > 1


@pytest.mark.parametrize("kind", NEW)
def test_a_plan_without_carriers_can_be_drawn(
    kind: str, small_plan: sidon.Plan, tmp_path: Path
) -> None:
    fields = small_plan.to_dict()
    fields["assignments"], fields["incumbents"], fields["refused"] = [], [], []
    sidon.Plan.from_dict(fields).picture(tmp_path / "empty.png", kind=kind)
    assert (tmp_path / "empty.png").read_bytes().startswith(b"\x89PNG")


def test_an_unknown_kind_is_refused_with_those_known(
    small_plan: sidon.Plan, tmp_path: Path
) -> None:
    with pytest.raises(ValueError, match="'pie'; use spectrum, zones, timeline, reuse"):
        small_plan.picture(tmp_path / "a.png", kind="pie")
