"""The layers of the house: who may name whom, and how long a file may be."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
RUST = sorted((ROOT / "src").rglob("*.rs"))
SOURCES = RUST + [
    path
    for folder in ("python", "tests")
    for path in sorted((ROOT / folder).rglob("*"))
    if path.suffix in {".py", ".rs"}
]
MAX_LINES = 500


def inside(path: Path, *parts: str) -> bool:
    return path.relative_to(ROOT).parts[: len(parts)] == parts


def code(path: Path) -> str:
    """Read a file without its line comments."""
    return re.sub(r"//.*", "", path.read_text(encoding="utf-8"))


def naming(pattern: str, paths: list[Path]) -> list[str]:
    return [str(path.relative_to(ROOT)) for path in paths if re.search(pattern, code(path))]


def test_the_walk_finds_the_engine() -> None:
    assert len(RUST) > 10


def test_only_the_bindings_name_python() -> None:
    others = [path for path in RUST if not inside(path, "src", "python")]
    assert naming(r"\b(pyo3|numpy)\b", others) == []
    assert naming(r"\bpyo3\b", RUST) != []  # the pattern does find what it looks for


def test_the_check_leans_on_nothing_it_checks() -> None:
    checks = [path for path in RUST if inside(path, "src", "check") or path.name == "check.rs"]
    checks = [path for path in checks if not inside(path, "src", "python")]
    assert checks != []
    assert naming(r"\b(table|search|bound)::|\buse super::super", checks) == []


def test_rooms_know_only_what_is_below_them() -> None:
    below = {
        "product": r"crate::(problem|table|search|check|bound)\b",
        "problem": r"crate::(table|search|check|bound)\b",
        "table": r"crate::(search|check|bound)\b",
        "frequency": r"crate::(product|problem|table|search|check|bound)\b",
    }
    for room, above in below.items():
        paths = [p for p in RUST if inside(p, "src", room) or inside(p, "src", f"{room}.rs")]
        assert paths != [], room
        assert naming(above, paths) == [], room


def test_spectrum_knows_nothing_of_study_plan_and_what_people_see() -> None:
    paths = sorted((ROOT / "python" / "sidon" / "spectrum").rglob("*.py"))
    assert len(paths) > 5
    assert naming(r"sidon\.(study|plan|view|cli)\b", paths) == []


def test_nothing_in_the_engine_prints() -> None:
    assert naming(r"\be?print(ln)?!|\bdbg!", RUST) == []


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MAX_LINES
