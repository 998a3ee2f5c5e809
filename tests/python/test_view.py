"""The picture counts products as the engine and plain loops do."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from matplotlib.collections import FillBetweenPolyCollection

import sidon
from sidon.demo import study_text
from sidon.plan.recount import carriers
from sidon.view.bands import rows
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


def with_availability(plan: sidon.Plan, spans: list[list[int]], foreign: int) -> sidon.Plan:
    fields = plan.to_dict()
    fields["availability"] = dict.fromkeys(fields["availability"], spans)
    fields["incumbents"][0]["frequency_hz"] = foreign
    return sidon.Plan.from_dict(fields)


def test_the_axis_breaks_where_nothing_is_available_for_long(small_plan: sidon.Plan) -> None:
    # VHF band III and UHF: 216 to 470 MHz is left out, one row holds both.
    spans = [[174_000_000, 200_000_000], [470_000_000, 500_000_000]]
    plan = with_availability(small_plan, spans, 484_250_000)
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


@pytest.mark.parametrize("foreign", range(530_000_000, 550_000_000, 1_700_000))
def test_no_carrier_stands_on_the_edge_of_a_row(small_plan: sidon.Plan, foreign: int) -> None:
    plan = with_availability(small_plan, [[470_000_000, 608_000_000]], foreign)
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
