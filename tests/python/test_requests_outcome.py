"""What becomes of requests: granted, moved with what stood in the way, served, refused; sheets."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import sidon
from sidon.event import Arrive, outcome, write_sheets
from sidon.event.party import file_names, nobody, party_csv, sheets
from sidon.event.requests.outcome import Outcome


def planned(fields: dict[str, Any], rows: list[dict[str, Any]], **changes: Any) -> sidon.Plan:
    defaults = {"zone": "hall", "profile": "hand"}
    fields = {**fields, "requests": {"rows": rows, "defaults": defaults}, **changes}
    return sidon.Study.from_dict(fields).plan(seed=1, iterations=10_000)


def asked(plan: sidon.Plan) -> list[Outcome]:
    """Leave out the links of the small study itself, of no party and without a wish."""
    return [row for row in outcome(plan) if row.party or row.wanted_hz is not None]


def by_link(plan: sidon.Plan) -> dict[str, Outcome]:
    return {row.link: row for row in asked(plan)}


def test_wishes_are_granted_or_moved_with_the_reason(study_fields: dict[str, Any]) -> None:
    rows: list[dict[str, Any]] = [
        {"party": "A", "link": "clear", "wanted": 482.5},
        {"party": "A", "link": "taken", "wanted": 477.5},  # in occupied channel 15
        {"party": "A", "link": "off", "wanted": "482.513"},
        {"party": "B", "link": "rival", "wanted": 482.5},
        {"party": "B", "link": "beside a lock", "wanted": 470.6},
        {"party": "B", "link": "whatever"},
    ]
    plan = planned(study_fields, rows)
    found = by_link(plan)
    assert {link: row.outcome for link, row in found.items()} == {
        "clear": "granted",
        "taken": "moved",
        "off": "moved",
        "rival": "moved",
        "beside a lock": "moved",
        "whatever": "served",
    }
    assert found["clear"].frequency_hz == 482_500_000
    assert "occupied channel 15" in found["taken"].reason
    assert "off the raster" in found["off"].reason
    assert "separation: 'clear' stands there" in found["rival"].reason
    assert "wanted also by 'clear' (A)" in found["rival"].reason
    assert "wanted also by 'rival' (B)" in found["clear"].reason
    assert "'vox-1' is 0.100 MHz from it, less than 0.350 MHz" in found["beside a lock"].reason
    frame = pd.DataFrame(plan.requests())
    assert list(frame["outcome"]) == [row.outcome for row in outcome(plan)]
    assert set(frame.loc[frame.link == "whatever", "wanted_hz"]) == {-1}
    # No link is missing, whoever it belongs to.
    assert len(frame) == len(plan.assignments) + len(plan.refused)
    assert set(frame.loc[frame.party == "", "outcome"]) == {"served"}
    # All of it is in the document.
    again = sidon.Plan.from_dict(plan.to_dict())
    assert outcome(again) == outcome(plan)
    assert "Requests: 1 granted, 4 moved, 1 served; 13 links belong to no party" in plan.summary()


def test_a_product_in_the_way_is_named(study_fields: dict[str, Any]) -> None:
    # 2 x 471.0 - 470.5 = 471.5 exactly.
    study_fields["locks"] = {"vox-1": 470.5, "vox-2": 471.0}
    plan = planned(study_fields, [{"link": "hit", "wanted": 471.5}])
    row = by_link(plan)["hit"]
    assert row.outcome == "moved"
    assert "product 2A-B of 'vox-2' and 'vox-1' falls 0.000 MHz from it" in row.reason


def test_no_wish_costs_a_link(study_fields: dict[str, Any]) -> None:
    # All want one frequency, in the narrow band of the in-ears: one may have it, none is refused.
    rows = [
        {"party": "A", "link": f"e{i}", "profile": "ears", "wanted": 497.0, "windows": "show"}
        for i in range(3)
    ]
    plain = sidon.Study.from_dict(study_fields).plan(seed=1, iterations=10_000)
    plan = planned(study_fields, rows)
    assert len(plan.refused) == len(plain.refused) == 0
    assert sorted(row.outcome for row in asked(plan)) == ["granted", "moved", "moved"]
    plan.check()


def test_the_heavier_link_has_its_wish(study_fields: dict[str, Any]) -> None:
    rows = [
        {"link": "light", "wanted": 482.5, "priority": 1},
        {"link": "heavy", "wanted": 482.5, "priority": 9},
    ]
    found = by_link(planned(study_fields, rows))
    assert (found["heavy"].outcome, found["light"].outcome) == ("granted", "moved")


def test_what_is_moved_stands_nearest(study_fields: dict[str, Any]) -> None:
    del study_fields["demand"], study_fields["locks"], study_fields["incumbents"]
    study_fields["profiles"][0]["guards"] = {}
    found = by_link(planned(study_fields, [{"link": n, "wanted": 482.5} for n in "abc"]))
    # Separation 350 kHz: below and above.
    assert sorted(row.frequency_hz or 0 for row in found.values()) == [
        482_150_000,
        482_500_000,
        482_850_000,
    ]


def test_the_reason_says_why_nothing_nearer_was_given(study_fields: dict[str, Any]) -> None:
    del study_fields["demand"], study_fields["locks"], study_fields["incumbents"]
    rows: list[dict[str, Any]] = [{"link": "a", "wanted": 482.5}, {"link": "b", "wanted": 482.5}]
    plan = planned(study_fields, rows)
    lost = next(row for row in outcome(plan) if row.outcome == "moved")
    assert "no nearer frequency is clear for it" in lost.reason
    # Moved away by hand, it could come back.
    fields = plan.to_dict()
    for row in fields["assignments"]:
        if row["link"] == lost.link:
            row["frequency_hz"] = 471_000_000
    far = by_link(sidon.Plan.from_dict(fields))[lost.link]
    assert "MHz is nearer and clear" in far.reason
    rows[1] |= {"fixed": "yes"}
    rows[0] |= {"wanted": 482.6}
    kept = by_link(planned(study_fields, rows, locks={"a": 484.0}))["a"]
    assert "it is locked where it stands" in kept.reason


def test_wishes_in_windows_that_only_touch_are_both_granted(study_fields: dict[str, Any]) -> None:
    study_fields["windows"][1]["start"] = study_fields["windows"][0]["end"]
    rows = [
        {"link": "early", "wanted": 482.5, "windows": "rehearsal"},
        {"link": "late", "wanted": 482.5, "windows": "show"},
    ]
    found = by_link(planned(study_fields, rows))
    assert {row.outcome for row in found.values()} == {"granted"}
    assert all(row.reason == "" for row in found.values())


def test_a_refused_request_keeps_its_reason(study_fields: dict[str, Any]) -> None:
    rows = [{"party": "A", "count": 30, "profile": "ears", "link": "e", "windows": "show"}]
    plan = planned(study_fields, rows)
    lost = [row for row in outcome(plan) if row.outcome == "refused"]
    assert lost
    assert any(row.party == "A" for row in lost)
    assert all(row.party in {"A", ""} and "candidate frequencies" in row.reason for row in lost)


def test_the_same_seed_grants_the_same(study_fields: dict[str, Any]) -> None:
    rows = [{"link": f"w{i}", "wanted": 471 + 0.4 * i} for i in range(8)]
    fields = {
        **study_fields,
        "requests": {"rows": rows, "defaults": {"zone": "hall", "profile": "hand"}},
    }
    study = sidon.Study.from_dict(fields)
    plans = [study.plan(seed=3, iterations=5_000, threads=n) for n in (1, 2)]
    assert plans[0] == plans[1]


def test_every_party_has_a_sheet_of_its_own(study_fields: dict[str, Any], tmp_path: Path) -> None:
    rows: list[dict[str, Any]] = [
        {"party": "Act / One", "link": "a", "wanted": 482.5, "windows": "show"},
        {"party": "act one", "link": "b", "profile": "ears"},
        {"party": "Act / One", "link": "c", "wanted": 477.5},
    ]
    study_fields["windows"][1]["margin"] = "15 min"
    plan = planned(study_fields, rows, timezone="Europe/Paris")
    written = write_sheets(plan, tmp_path / "sheets")
    assert [path.name for path in written] == [
        "Act-One.txt",
        "Act-One.csv",
        "act-one-2.txt",
        "act-one-2.csv",
        "Links-without-a-party.txt",
        "Links-without-a-party.csv",
    ]
    text = written[0].read_text()
    assert "482.500" in text
    assert "local (Europe/Paris):" in text
    assert "show: 2031-05-01 19:45 to 2031-05-01 23:45, a margin of 15 min" in text
    assert "c (moved): at 477.500 MHz: not available" in text
    assert "confirm every frequency with a scan" in text
    assert "limiter" not in text
    assert "limiter" in written[2].read_text()  # in-ear monitors
    with written[1].open(newline="") as file:
        table = list(csv.DictReader(file))
    assert [row["link"] for row in table] == ["a", "c"]
    assert table[0]["frequency_mhz"] == "482.500"
    with written[5].open(newline="") as file:
        rest = [row["link"] for row in csv.DictReader(file)]
    assert sorted([*rest, "a", "b", "c"]) == sorted(row.link for row in plan.assignments)
    with pytest.raises(sidon.PlanError, match="name a directory"):
        write_sheets(plan, written[0])


def test_the_sheet_of_links_without_a_party_is_never_that_of_one() -> None:
    assert nobody(["A"]) == "Links without a party"
    assert nobody(["links without a PARTY"]) == "Links without a party (2)"


def test_newcomers_of_a_repair_are_on_a_sheet(study_fields: dict[str, Any]) -> None:
    study_fields["demand"] = [{"ids": ["a"], "profile": "hand", "zone": "hall", "party": "A"}]
    for key in ("locks", "incumbents"):
        study_fields.pop(key, None)
    plan = sidon.Study.from_dict(study_fields).plan(iterations=1_000)
    assert list(sheets(plan)) == ["A"]
    more = plan.repair(Arrive("hand", "yard", name="late")).plan
    assert [row.link for row in sheets(more)["Links without a party"]] == ["late-1"]


def test_file_names_are_safe_and_unique() -> None:
    parties = ["../../etc", "CON", "a:b*c?", "A-B-C", "x" * 200, "x" * 199, "\u00e9t\u00e9", "..."]
    names = file_names(parties)
    assert len({name.casefold() for name in names.values()}) == len(parties)
    assert names["../../etc"] == "etc"
    assert names["CON"] == "CON-1"
    assert names["\u00e9t\u00e9"] == "\u00e9t\u00e9"
    for name in names.values():
        assert "/" not in name
        assert name.strip(".") == name != ""
        assert len(name) < 70


def test_a_plan_from_elsewhere_puts_no_formula_into_a_sheet(
    study_fields: dict[str, Any], tmp_path: Path
) -> None:
    fields = planned(study_fields, [{"party": "A", "link": "a"}]).to_dict()
    for row in fields["assignments"]:
        row["link"] = "=1+1" if row["link"] == "a" else row["link"]
    fields["asked"]["required"] = [
        "=1+1" if link == "a" else link for link in fields["asked"]["required"]
    ]
    rows = sheets(sidon.Plan.from_dict(fields))["A"]
    assert "\n'=1+1," in party_csv(rows)
    table = tmp_path / "plan.csv"
    sidon.Plan.from_dict(fields).to_csv(table)
    assert "\n'=1+1," in table.read_text(encoding="utf-8")
