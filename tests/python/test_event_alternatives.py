"""Alternatives against a plain recount: what is offered stands, what is not would break a rule."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from event_cases import broken_by, moved, places, random_plan, widened

import sidon
from sidon.event.alternatives import Alternatives
from sidon.spectrum.scan import Scan

# Off every raster: by half a step, and by a hertz, where no cost table holds so fine a raster.
FOREIGN = (None, 471_012_500, 470_512_501)


@pytest.mark.parametrize("seed", range(6))
def test_exactly_the_clear_frequencies_are_offered(seed: int) -> None:
    plan = random_plan(seed, foreign_hz=FOREIGN[seed % 3])
    spares = {row.link: row for row in plan.assignments if row.spare}
    seen = 0
    for row in plan.assignments:
        found = plan.alternatives(row.link, k=10_000)
        offered = {a.frequency_hz for a in found if a.spare is None}
        clear = {
            hz
            for hz in places(plan, row.link)
            if hz != row.frequency_hz and not broken_by(moved(plan, row.link, hz), row.link)
        }
        assert offered == clear
        assert found.candidates == len(places(plan, row.link))
        assert len(found) == found.clear
        for a in found:
            if a.spare is not None:
                assert a.frequency_hz == spares[a.spare].frequency_hz
                swapped = moved(plan, row.link, a.frequency_hz, spare=a.spare)
                assert not broken_by(swapped, row.link)
        seen += len(offered)
    assert seen


@pytest.mark.parametrize("seed", range(6, 12))
def test_clearance_is_how_much_every_rule_could_grow(seed: int) -> None:
    plan = random_plan(seed, foreign_hz=FOREIGN[seed % 3])
    for row in plan.assignments[:3]:
        for a in plan.alternatives(row.link, k=3):
            there = moved(plan, row.link, a.frequency_hz, spare=a.spare)
            assert not broken_by(widened(there, a.clearance_hz), row.link)
            if a.clearance_hz < a.limit_hz:
                assert broken_by(widened(there, a.clearance_hz + 1), row.link)


@pytest.mark.parametrize("seed", range(12, 18))
def test_the_best_come_first_whatever_their_number(seed: int) -> None:
    plan = random_plan(seed, foreign_hz=FOREIGN[seed % 3], links=5)
    for row in plan.assignments[:4]:
        profile = next(p for p in plan.document.profiles if p.name == row.profile)
        every = plan.alternatives(row.link, k=10_000)
        kept = [a.clearance_hz // profile.raster_hz for a in every if a.spare is None]
        assert kept == sorted(kept, reverse=True)
        for k in (1, 2, 7):
            assert list(plan.alternatives(row.link, k=k)) == list(every[:k])


def test_spares_of_the_link_come_first_and_are_told(small_plan: sidon.Plan) -> None:
    best = small_plan.alternatives("vox-3", k=3)
    assert [a.spare for a in best] == ["vox-spare-1", None, None]
    spare = next(row for row in small_plan.assignments if row.link == "vox-spare-1")
    assert best[0].frequency_hz == spare.frequency_hz
    assert best[0].reasons[0] == "spare vox-spare-1, promised"
    # The spare of the talks is in another zone, and a spare has no spares of its own.
    assert small_plan.alternatives("vox-spare-1", k=1)[0].spare is None


def test_reasons_name_what_is_nearest(small_plan: sidon.Plan) -> None:
    rows = {row.link: row for row in small_plan.assignments}
    for a in small_plan.alternatives("ears-1", k=5):
        assert a.nearest_link is not None
        # Both zones are coupled: every other carrier counts, the foreign one too.
        others = {
            r.link: r.frequency_hz for r in rows.values() if r.link not in ("ears-1", a.spare)
        }
        others["news crew"] = small_plan.document.incumbents[0].frequency_hz
        gaps = {link: abs(hz - a.frequency_hz) for link, hz in others.items()}
        assert a.nearest_hz == min(gaps.values()) == gaps[a.nearest_link]
        for near in a.products:
            names = [*near.links, "ears-1"] if near.role == "victim" else near.links
            guard = {"hand": {"2A-B": 50_000, "A+B-C": 25_000}, "ears": {"2A-B": 100_000}}
            victim = rows[names[-1]]
            assert near.excess_hz == abs(near.offset_hz) - guard[victim.profile][near.form]
        assert str(a).startswith(sidon.format_frequency(a.frequency_hz))


def test_a_scan_puts_quiet_frequencies_first(small_plan: sidon.Plan) -> None:
    hertz = np.arange(470_000_000, 500_000_001, 25_000)
    loud = (hertz > 482_000_000) & (hertz < 488_000_000)
    levels = np.where(loud, -60.0, -100.0)
    best = small_plan.alternatives("vox-1", k=400, levels=(hertz, levels))
    told = [a.level_dbm for a in best if a.spare is None]
    assert set(told) == {-100.0, -60.0}
    assert told == sorted(told, key=lambda level: level or 0)
    # Nothing is known above the scan's end; what is not known comes last.
    part = hertz < 484_000_000
    best = small_plan.alternatives("vox-1", k=400, levels=(hertz[part], levels[part]))
    known = [a.level_dbm is not None for a in best if a.spare is None]
    assert known == sorted(known, reverse=True)
    assert True in known
    assert False in known


def test_a_scan_read_from_a_file_counts_by_its_highest_level(small_plan: sidon.Plan) -> None:
    hertz = np.arange(470_000_000, 500_000_001, 25_000)
    quiet = np.full(len(hertz), -100.0)
    burst = quiet.copy()
    burst[hertz > 494_000_000] = -50.0
    burst[5] = np.nan
    scan = Scan.from_arrays(hertz, np.stack([quiet, burst]), resolution_bandwidth="25 kHz")
    best = small_plan.alternatives("vox-1", k=400, levels=scan)
    assert {a.level_dbm for a in best} == {-100.0, -50.0}
    assert all((a.level_dbm == -50.0) == (a.frequency_hz > 493_900_000) for a in best)


def test_a_plan_that_is_broken_elsewhere_still_has_alternatives(small_plan: sidon.Plan) -> None:
    fields = small_plan.to_dict()
    at = {row["link"]: row for row in fields["assignments"]}
    at["vox-3"]["frequency_hz"] = at["vox-4"]["frequency_hz"] + 25_000
    broken = sidon.Plan.from_dict(fields)
    with pytest.raises(sidon.CheckError):
        broken.check()
    for a in broken.alternatives("vox-2", k=20):
        assert not broken_by(moved(broken, "vox-2", a.frequency_hz, spare=a.spare), "vox-2")
    # The way out for one of the two that are in each other's way.
    mended = moved(broken, "vox-3", broken.alternatives("vox-3", k=9)[-1].frequency_hz)
    assert mended.check().hard == 0


def test_bad_arguments_are_told_together(small_plan: sidon.Plan) -> None:
    with pytest.raises(sidon.InvalidProblemError) as caught:
        small_plan.alternatives("vox1", k=0, levels=([1, 0], [1.0]))
    assert [fault.place for fault in caught.value.faults] == ["link", "k", "levels"]
    assert caught.value.faults[0].remedy == "did you mean 'vox-1'?"
    for bad in (None, 3, "news crew", ""):
        with pytest.raises(sidon.InvalidProblemError, match="link"):
            small_plan.alternatives(bad)  # type: ignore[arg-type]
    with pytest.raises(sidon.InvalidProblemError, match="foreign carrier"):
        small_plan.alternatives("news crew")
    for levels in (3, ([470_000_000], ["loud"]), ([470_000_000], [float("nan")]), ([1], [1], [1])):
        with pytest.raises(sidon.InvalidProblemError, match="levels"):
            small_plan.alternatives("vox-1", levels=levels)  # type: ignore[arg-type]


def test_are_plain_values(small_plan: sidon.Plan) -> None:
    found = small_plan.alternatives("vox-2", k=2)
    assert isinstance(found, Alternatives)
    assert pickle.loads(pickle.dumps(found)) == found
    assert found[:1] == found.found[:1]
    table = found.columns()
    assert table["frequency_hz"].tolist() == [a.frequency_hz for a in found]
    assert "<table>" in found._repr_html_()
    assert list(found.frame()["frequency_hz"]) == table["frequency_hz"].tolist()
    assert "vox-2 stands on" in found.summary()
    assert repr(found).startswith("Alternatives('vox-2': 2 of ")


def test_what_has_no_carrier_of_its_own_is_told_apart(small_plan: sidon.Plan) -> None:
    (crew,) = [row.name for row in small_plan.document.incumbents]
    with pytest.raises(sidon.InvalidProblemError, match=f"'{crew}' is a foreign carrier"):
        small_plan.alternatives(crew)
    fields = small_plan.to_dict()
    row = fields["assignments"].pop()
    link = row["link"]
    fields["refused"] = [{"link": link, "reason": "invented", "spare": row["spare"]}]
    with pytest.raises(sidon.InvalidProblemError, match=f"'{link}' was refused .* retry_refused"):
        sidon.Plan.from_dict(fields).alternatives(link)
