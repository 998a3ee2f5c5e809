"""The picture counts products as the engine and plain loops do."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from matplotlib.collections import FillBetweenPolyCollection

import sidon
from sidon.demo import study_text
from sidon.plan.recount import carriers
from sidon.view.bands import left_out_text, rows
from sidon.view.closeup import choose
from sidon.view.lanes import zones
from sidon.view.products import busiest_moment, product_counts
from sidon.view.spectrum import spectrum


def test_the_busiest_moment_is_the_one_with_most_links(small_plan: sidon.Plan) -> None:
    moment = busiest_moment(small_plan.document, "hall")
    assert moment.label == "show"
    assert sum(carrier.zone == "hall" for carrier in moment.carriers) == 10


def test_products_are_counted_as_plain_loops_count_them(small_plan: sidon.Plan) -> None:
    document = small_plan.document
    moment = busiest_moment(document, "hall")
    hertz = [c.frequency_hz for c in moment.carriers if c.zone == "hall"]
    edges = np.arange(400_000_000, 600_000_000, 100_000, dtype=np.int64)
    counts = product_counts(document, moment, "hall", edges)
    two = [2 * a - b for a in hertz for b in hertz if a != b]
    three = [a + b - c for a, b in combinations(hertz, 2) for c in hertz if c not in (a, b)]
    np.testing.assert_array_equal(counts["2A-B"], np.histogram(two, edges)[0])
    np.testing.assert_array_equal(counts["A+B-C"], np.histogram(three, edges)[0])


def test_the_picture_labels_its_axes_and_lanes(small_plan: sidon.Plan) -> None:
    figure = spectrum(small_plan)
    strips, closeup = figure.axes[:-1], figure.axes[-1]
    assert strips[-1].xaxis.get_label().get_text() == "frequency (MHz)"
    assert [t.get_text() for t in strips[0].get_yticklabels()] == ["always", "show", ""]
    texts = {text.get_text() for strip in strips for text in strip.texts}
    assert {"15", "17", "hall", "yard"} <= texts
    assert "Close up: hall while show is on" in closeup.get_title(loc="left")
    labels = {text.get_text() for text in figure.legends[0].get_texts()}
    assert {"hand", "ears", "spare (hollow)", "foreign carrier"} <= labels
    assert "guard: no product inside, its edge is allowed" in labels
    assert "excluded or not available" not in labels  # nothing is


def test_carriers_of_different_windows_stand_in_lanes_of_their_own(small_plan: sidon.Plan) -> None:
    hall, yard = zones(small_plan.document)
    assert [lane.label for lane in hall.lanes] == ["always", "show"]
    assert {c.profile for c in hall.lanes[1].carriers} == {"ears"}
    assert [lane.label for lane in yard.lanes] == [""]
    assert "news crew" in {c.name for c in yard.lanes[0].carriers}
    tops = [lane.top for zone in (hall, yard) for lane in zone.lanes]
    assert all(b - a >= 1 for a, b in pairwise(tops))
    placed = [c.name for zone in (hall, yard) for lane in zone.lanes for c in lane.carriers]
    assert len(placed) == len(set(placed)) == 14


def with_availability(
    plan: sidon.Plan, spans: list[list[int]], foreign: int, *more: int
) -> sidon.Plan:
    fields = plan.to_dict()
    fields["availability"] = dict.fromkeys(fields["availability"], spans)
    first = fields["incumbents"][0] | {"frequency_hz": foreign}
    fields["incumbents"] = [
        first,
        *(first | {"name": f"more {n}", "frequency_hz": hz} for n, hz in enumerate(more)),
    ]
    return sidon.Plan.from_dict(fields)


def test_the_axis_breaks_where_nothing_is_available_for_long(small_plan: sidon.Plan) -> None:
    # VHF band III and UHF: 216 to 470 MHz is left out, one row holds both.
    spans = [[174_000_000, 200_000_000], [470_000_000, 500_000_000]]
    plan = with_availability(small_plan, spans, 184_250_000)
    ((vhf, uhf),) = rows(plan.document)
    assert vhf[0] < 174_000_000
    assert 200_000_000 < vhf[1] < 202_000_000
    assert 468_000_000 < uhf[0] < 470_000_000
    assert uhf[1] > 500_000_000
    upper, lower = spectrum(plan).axes[:2]
    assert upper.get_xlim() == (vhf[0] / 1e6, vhf[1] / 1e6)
    assert lower.get_xlim() == (uhf[0] / 1e6, uhf[1] / 1e6)
    # A gap of two TV channels is shown.
    near = [[470_000_000, 480_000_000], [492_000_000, 500_000_000]]
    assert len(rows(with_availability(small_plan, near, 484_250_000).document)[0]) == 1


def test_long_stretches_without_a_carrier_are_left_out_and_named(small_plan: sidon.Plan) -> None:
    highest = max(row.frequency_hz for row in small_plan.assignments)
    plan = with_availability(small_plan, [[470_000_000, 700_000_000]], 600_000_000)
    ((low, high),) = rows(plan.document)
    assert highest < low[1] < highest + 6_000_000
    assert 590_000_000 < high[0] < 600_000_000 < high[1] < 610_000_000
    texts = [f"{edge / 1e6:.0f}" for edge in (low[1], high[0], high[1])]
    told = left_out_text(plan.document, [[low, high]])
    assert told.endswith(f"{texts[0]}\u2013{texts[1]}, {texts[2]}\u2013700 MHz")
    assert told in spectrum(plan).axes[0].get_xlabel()
    assert left_out_text(small_plan.document, rows(small_plan.document)) == ""
    # Without any carrier all that is available is shown.
    fields = plan.to_dict()
    fields["assignments"], fields["incumbents"] = [], []
    ((all_of_it,),) = [row[:1] for row in rows(sidon.Plan.from_dict(fields).document)[:1]]
    assert all_of_it[0] < 470_000_000


def test_a_row_has_lanes_only_for_who_stands_in_it(small_plan: sidon.Plan) -> None:
    document = small_plan.document
    # In-ears tune from 494 MHz; below stand the others.
    below, above = zones(document, [(470_000_000, 476_500_000)]), zones(document)
    assert {len(zone.lanes) for zone in below} == {1}
    assert [len(zone.lanes) for zone in above] == [2, 1]
    assert all(lane.carriers for zone in below for lane in zone.lanes)
    alone = next(c for c in carriers(document) if c.foreign)
    (only,) = zones(document, [(alone.frequency_hz, alone.frequency_hz)])
    assert [c.name for c in only.lanes[0].carriers] == [alone.name]
    hall, other = zones(document, by_time=False)
    assert [len(zone.lanes) for zone in (hall, other)] == [1, 1]
    assert len(hall.lanes[0].carriers) + len(other.lanes[0].carriers) == 14


def test_the_picture_of_a_crowded_plan_is_no_higher_than_a_sheet(small_plan: sidon.Plan) -> None:
    fields = small_plan.to_dict()
    zone = fields["zones"][0]
    names = [f"zone {n}" for n in range(60)]
    fields["zones"] += names
    pairs = [(a, b) for n, a in enumerate(fields["zones"]) for b in fields["zones"][n + 1 :]]
    fields["couplings"] = [{"zones": [a, b], "degree": "none"} for a, b in pairs]
    rows_ = [row for row in fields["assignments"] if row["zone"] == zone]
    for name in names:
        fields["assignments"] += [
            row | {"zone": name, "link": f"{name} {row['link']}"} for row in rows_
        ]
    fields["asked"]["required"] += [
        f"{name} {row['link']}" for name in names for row in rows_ if not row["spare"]
    ]
    fields["asked"]["spares"] += [
        f"{name} {row['link']}" for name in names for row in rows_ if row["spare"]
    ]
    figure = spectrum(sidon.Plan.from_dict(fields))
    assert figure.get_size_inches()[1] < 16.6
    assert "all times of a zone in one lane" in figure.axes[0].get_xlabel()
    assert "all times" not in spectrum(small_plan).axes[0].get_xlabel()


def test_names_in_the_close_up_run_into_nothing(small_plan: sidon.Plan) -> None:
    figure = spectrum(small_plan)
    figure.canvas.draw()
    axes = figure.axes[-1]
    boxes = [text.get_window_extent() for text in axes.texts if text.get_fontsize() == 7]
    assert len(boxes) > 3
    for a, b in combinations(boxes, 2):
        assert not a.overlaps(b)
    markers = [line for line in axes.lines if line.get_markersize() == 7]
    assert len(markers) >= len(boxes)
    for line in markers:
        at = axes.transData.transform(np.asarray(line.get_xydata())[0])
        assert not any(box.contains(*at) for box in boxes)


def test_the_close_up_shows_the_piece_with_most_guarded_carriers(small_plan: sidon.Plan) -> None:
    subject = choose(small_plan.document)
    assert subject is not None
    inside = [
        c
        for c in subject.moment.carriers
        if c.zone == subject.zone and subject.low_hz <= c.frequency_hz <= subject.high_hz
    ]
    best = 0
    for zone in small_plan.document.zones:
        hertz = [
            c.frequency_hz
            for c in busiest_moment(small_plan.document, zone).carriers
            if c.zone == zone
        ]
        best = max(best, *(sum(a <= hz <= a + 6_000_000 for hz in hertz) for a in hertz))
    assert len(inside) >= best - 2  # more guards of fewer carriers may weigh more
    assert subject.high_hz - subject.low_hz <= 6_500_000


@pytest.mark.parametrize("foreign", range(530_000_000, 541_000_000, 1_700_000))
def test_no_carrier_stands_on_the_edge_of_a_row(small_plan: sidon.Plan, foreign: int) -> None:
    # More of them, so that no stretch is left out.
    more = [518_000_000, 553_000_000, 575_000_000, 597_000_000]
    plan = with_availability(small_plan, [[470_000_000, 608_000_000]], foreign, *more)
    found = rows(plan.document)
    assert len(found) == 2
    pieces = [piece for row in found for piece in row]
    assert pieces[0][1] == pieces[1][0]
    for hz in (carrier.frequency_hz for carrier in carriers(plan.document)):
        assert all(abs(hz - edge) > 300_000 for piece in pieces for edge in piece)
        assert sum(low < hz < high for low, high in pieces) == 1
    widths = [high - low for low, high in pieces]
    assert max(widths) < 2 * min(widths)


def test_every_row_and_piece_is_in_order_however_scattered() -> None:
    document = sidon.Study.from_toml_text(study_text()).plan(iterations=500).document
    for spans in (
        [(hz, hz + 1_000_000) for hz in range(50_000_000, 900_000_000, 50_000_000)],
        [(50_000_000, 1_800_000_000)],
        [(470_000_000, 470_000_000)],
    ):
        fields = document.model_dump() | {
            "availability": {row.name: spans for row in document.profiles}
        }
        found = rows(sidon.Plan.from_dict(fields).document)
        assert 1 <= len(found) <= 4
        edges = [edge for row in found for piece in row for edge in piece]
        assert edges == sorted(edges)


def test_a_product_on_the_edge_of_a_guard_is_drawn_outside_it(small_plan: sidon.Plan) -> None:
    closeup = spectrum(small_plan).axes[-1]
    guards = [row.guards_hz.get("2A-B", 0) for row in small_plan.document.profiles]
    bands = [c for c in closeup.collections if isinstance(c, FillBetweenPolyCollection)]
    assert bands
    for band in bands:
        box = band.get_paths()[0].get_extents()
        assert all(abs(box.width * 1e6 - 2 * guard) > 1_000 for guard in guards if guard)


def test_a_plan_of_one_carrier_has_a_picture_without_close_up(small_plan: sidon.Plan) -> None:
    fields = small_plan.to_dict()
    fields["assignments"], fields["incumbents"] = fields["assignments"][:1], []
    fields["spectrum"] = None
    single = sidon.Plan.from_dict(fields)
    assert choose(single.document) is None
    assert len(spectrum(single).axes) == 1
