"""A study becomes the problem it means: domains, spares, weights, couplings, windows, locks."""

from __future__ import annotations

import json
import pickle
from pathlib import Path
from typing import Any

import pytest

import sidon

Fields = dict[str, Any]


def compiled(fields: Fields) -> Fields:
    return sidon.Study.from_dict(fields).problem().to_dict()


def link(problem: Fields, name: str) -> Fields:
    found: Fields = next(row for row in problem["links"] if row["id"] == name)
    return found


def test_links_and_spares_carry_their_names(study_fields: Fields) -> None:
    assert sidon.Study.from_dict(study_fields).link_ids == [
        *(f"vox-{n}" for n in range(1, 6)),
        "vox-spare-1",  # 20 % of five
        "host",
        "guest",
        "talk-spare-1",
        *(f"ears-{n}" for n in range(1, 4)),
        "ears-spare-1",
    ]


@pytest.mark.parametrize(
    ("count", "spares", "expected"),
    [(10, "20 %", 2), (11, "20%", 3), (3, "30 %", 1), (4, 0, 0), (4, "0 %", 0), (1, "100 %", 1)],
)
def test_a_share_of_spares_is_rounded_up(
    study_fields: Fields, count: int, spares: object, expected: int
) -> None:
    study_fields["demand"][0] |= {"count": count, "spares": spares}
    names = sidon.Study.from_dict(study_fields).link_ids
    assert sum(name.startswith("vox-spare-") for name in names) == expected


def test_no_number_of_spares_outweighs_a_required_link(study_fields: Fields) -> None:
    study_fields["demand"][0]["priority"] = 3
    links = compiled(study_fields)["links"][:-1]
    spares = [row for row in links if "spare" in row["id"]]
    required = [row for row in links if row not in spares]
    assert sum(row["priority"] for row in spares) < min(row["priority"] for row in required)


def test_domains_hold_what_is_free_and_no_more(study_fields: Fields) -> None:
    study = sidon.Study.from_dict(study_fields)
    ears = study.link_ids.index("ears-1")
    candidates = study.problem().candidates_hz(ears)
    assert (candidates.min(), candidates.max()) == (494_100_000, 499_900_000)
    vox = study.problem().candidates_hz(0)
    for low, high in ((476, 482), (488, 494)):  # channels 15 and 17, less half a bandwidth
        taken = (vox > low * 1e6 - 1e5) & (vox < high * 1e6 + 1e5)
        assert not taken.any()


def test_unlisted_pairs_of_zones_are_fully_coupled(study_fields: Fields) -> None:
    study_fields["zones"].append("street")
    degrees = {(c["a"], c["b"]): c["degree"] for c in compiled(study_fields)["couplings"]}
    assert degrees == {(0, 1): "separation", (0, 2): "full", (1, 2): "full"}
    study_fields["default_coupling"] = "none"
    degrees = {(c["a"], c["b"]): c["degree"] for c in compiled(study_fields)["couplings"]}
    assert degrees == {(0, 1): "separation", (0, 2): "none", (1, 2): "none"}


def test_windows_become_minutes(study_fields: Fields) -> None:
    problem = compiled(study_fields)
    (window,) = link(problem, "ears-1")["windows"]
    assert window["end"] - window["start"] == 210  # 20:00 to 23:30
    assert link(problem, "vox-1")["windows"] == []


def test_foreign_carriers_are_fixed_wherever_they_are(study_fields: Fields) -> None:
    # Off the raster, and inside an occupied channel.
    study_fields["incumbents"][0]["frequency"] = "477.0012 MHz"
    row = link(compiled(study_fields), "news crew")
    assert row["locked_hz"] == 477_001_200
    assert "news crew" not in sidon.Study.from_dict(study_fields).link_ids


def test_preferred_ranges_cost_nothing_and_the_rest_does(study_fields: Fields) -> None:
    study_fields["demand"][0]["preferred"] = [["484 MHz", "485 MHz"]]
    study = sidon.Study.from_dict(study_fields)
    problem = study.problem().to_dict()
    costs = problem["costs"][link(problem, "vox-1")["costs"]]
    free = study.problem().candidates_hz(0)[[cost == 0 for cost in costs]]
    assert (free.min(), free.max(), len(free)) == (484_000_000, 485_000_000, 41)


def test_waived_forms_are_left_out(study_fields: Fields) -> None:
    study_fields["profiles"][0]["guards"] = {"-C + A + B": 0, "2b-a": "50 kHz"}
    (guard,) = compiled(study_fields)["profiles"][0]["guards"]
    assert (guard["form"], guard["guard_hz"]) == ("2A-B", 50_000)


def test_reads_back_what_it_writes(study_fields: Fields, tmp_path: Path) -> None:
    study = sidon.Study.from_dict(study_fields)
    assert sidon.Study.from_dict(study.to_dict()) == study
    path = tmp_path / "study.json"
    path.write_text(json.dumps(study.to_dict()), encoding="utf-8")
    assert sidon.Study.from_file(path) == study
    assert pickle.loads(pickle.dumps(study)) == study
    study_fields["name"] = "Another"
    assert sidon.Study.from_dict(study_fields) != study


def test_toml_and_json_say_the_same() -> None:
    toml = """
        format = "sidon-study/1"
        name = "Pair"
        place = { name = "Invented" }
        availability = { ranges = [[470, "476 MHz"]] }
        zones = ["hall"]
        profiles = [{ name = "hand", ranges = [[470.0, 476]], raster = 0.025, bandwidth = 0.2,
                      separation = "350 kHz" }]
        demand = [{ id = "vox", count = 2, profile = "hand", zone = "hall" }]
    """
    toml = " ".join(toml.split()).replace(" name", "\nname", 1).replace(" place", "\nplace")
    for key in ("availability", "zones", "profiles", "demand"):
        toml = toml.replace(f" {key} =", f"\n{key} =")
    study = sidon.Study.from_toml_text(toml)
    assert sidon.Study.from_json_text(json.dumps(study.to_dict())) == study
    assert study.model.profiles[0].raster == 25_000


def test_prints_itself(study_fields: Fields) -> None:
    study_fields["name"] = "A <b>bold</b> evening"
    study = sidon.Study.from_dict(study_fields)
    assert "10 links + 3 spares, 2 profiles, 2 zones" in repr(study)
    page = study._repr_html_()
    assert "<b>" not in page
    assert "&lt;b&gt;" in page
