"""The layers of the house: who may name whom, and how long a file may be."""

from __future__ import annotations

import ast
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


# Whom a module may not name as it loads. What a method names when it is called is not held here:
# that is how a plan draws itself, and a study is planned.
ABOVE = {
    "bench": "capacity cli demo equipment event plan spectrum study sweep view",
    "capacity": "bench cli demo event sweep view",
    "cli": "bench",
    "demo": "bench capacity cli equipment event plan spectrum study sweep view",
    "equipment": "bench capacity cli demo event spectrum sweep view",
    "event": "bench capacity cli demo equipment view",
    "plan": "bench capacity cli demo equipment spectrum study sweep view",
    "spectrum": "bench capacity cli demo equipment event plan study sweep view",
    "study": "bench capacity cli demo equipment sweep view",
    "sweep": "bench capacity cli demo equipment event plan spectrum view",
    "view": "bench cli demo equipment event study sweep",
}


def named_on_loading(path: Path) -> set[str]:
    """List the rooms that a module names as it loads."""
    body = ast.parse(path.read_text(encoding="utf-8")).body
    modules = [n.module or "" for n in body if isinstance(n, ast.ImportFrom)]
    modules += [alias.name for n in body if isinstance(n, ast.Import) for alias in n.names]
    parts = [module.split(".") for module in modules]
    return {part[1] for part in parts if part[0] == "sidon" and len(part) > 1}


def test_every_python_room_has_its_rule() -> None:
    rooms = {path.parent.name for path in (ROOT / "python" / "sidon").glob("*/__init__.py")}
    assert rooms == set(ABOVE)


@pytest.mark.parametrize("room", ABOVE)
def test_python_rooms_load_nothing_above_them(room: str) -> None:
    paths = sorted((ROOT / "python" / "sidon" / room).rglob("*.py"))
    named = {str(path.relative_to(ROOT)): named_on_loading(path) for path in paths}
    assert named != {}
    above = set(ABOVE[room].split())
    assert {path: found & above for path, found in named.items() if found & above} == {}


def test_a_scan_and_the_stations_know_nothing_of_each_other() -> None:
    folder = ROOT / "python" / "sidon" / "spectrum"
    scans = sorted((folder / "scan").rglob("*.py"))
    stations = sorted(folder.glob("*.py"))
    assert naming(r"from sidon\.spectrum(\.(?!scan\b)\w+)? import", scans) == []
    assert naming(r"from sidon\.spectrum\.scan\b", stations) == []


def test_of_living_with_a_plan_only_explaining_sweeps() -> None:
    folder = ("python", "sidon", "event")
    paths = [path for path in SOURCES if inside(path, *folder)]
    others = [path for path in paths if not inside(path, *folder, "explain")]
    assert naming(r"from sidon\.sweep\b", others) == []
    assert naming(r"from sidon\.sweep\b", paths) != []  # the pattern does find what it looks for


def test_nothing_in_the_engine_prints() -> None:
    assert naming(r"\be?print(ln)?!|\bdbg!", RUST) == []


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MAX_LINES
