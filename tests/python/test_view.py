"""The picture counts products as the engine and plain loops do."""

from __future__ import annotations

from itertools import combinations

import numpy as np

import sidon
from sidon.view.closeup import choose
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


def test_the_picture_labels_its_axes_and_rows(small_plan: sidon.Plan) -> None:
    figure = spectrum(small_plan)
    strips, closeup = figure.axes[:-1], figure.axes[-1]
    assert strips[-1].get_xlabel() == "frequency (MHz)"
    assert [label.get_text() for label in strips[0].get_yticklabels()] == ["hall", "yard"]
    numbers = {text.get_text() for strip in strips for text in strip.texts}
    assert {"15", "17"} <= numbers
    assert "Close up: hall while show is on" in closeup.get_title(loc="left")
    labels = {text.get_text() for text in figure.legends[0].get_texts()}
    assert {"hand", "ears", "spare (hollow)", "foreign carrier"} <= labels


def test_a_plan_of_one_carrier_has_a_picture_without_close_up(small_plan: sidon.Plan) -> None:
    fields = small_plan.to_dict()
    fields["assignments"], fields["incumbents"] = fields["assignments"][:1], []
    fields["spectrum"] = None
    single = sidon.Plan.from_dict(fields)
    assert choose(single.document) is None
    assert len(spectrum(single).axes) == 1
