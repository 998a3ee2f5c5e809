"""Methods by name: the built-in ones, and those that other packages register."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any, get_args

import pytest

import sidon
from sidon._options import Method

MODULE = """
import numpy as np

def lowest(state, run):
    for link in state.free:
        clean = np.flatnonzero(state.cost(link) < state.HARD)
        if run.tick() and clean.size:
            state.place(link, int(clean[0]))

class Highest:
    def __call__(self, state, run):
        for link in state.free:
            clean = np.flatnonzero(state.cost(link) < state.HARD)
            if run.tick() and clean.size:
                state.place(link, int(clean[-1]))

highest = Highest()
number = 3
"""


class Shelf:
    """A folder on the path, to which distributions can be added as an installer would."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def install(
        self, name: str, entries: dict[str, str], modules: dict[str, str] | None = None
    ) -> None:
        """Write what an installer would, for version 1.5."""
        info = self.folder / f"{name.replace('-', '_')}-1.5.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.5\n")
        lines = "".join(f"{key} = {value}\n" for key, value in entries.items())
        (info / "entry_points.txt").write_text(f"[sidon.methods]\n{lines}")
        for module, text in (modules or {}).items():
            (self.folder / f"{module}.py").write_text(text)


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shelf:
    monkeypatch.syspath_prepend(tmp_path)
    before = set(sys.modules)
    monkeypatch.setattr(sys, "modules", dict(sys.modules))
    assert set(sys.modules) == before
    return Shelf(tmp_path)


def ruler() -> sidon.Problem:
    return sidon.Problem.simple(range(7), count=3, separation=2)


def test_without_other_packages_only_the_built_in_methods_are_listed() -> None:
    assert sidon.methods() == dict.fromkeys(get_args(Method), "sidon")


def test_a_registered_method_is_listed_and_runs(shelf: Shelf) -> None:
    entries = {"lowest": "extra_search:lowest", "a-highest": "extra_search:highest"}
    shelf.install("extra-search", entries, {"extra_search": MODULE})
    built_in = list(get_args(Method))
    assert list(sidon.methods()) == [*built_in, "a-highest", "lowest"]
    assert sidon.methods()["lowest"] == "extra-search 1.5"
    assert "extra_search" not in sys.modules, "listing imports nothing"
    result = sidon.solve(ruler(), method="lowest")
    assert result.frequencies.tolist() == [0, 2, 4]
    assert result.iterations == 3
    assert sidon.solve(ruler(), method="a-highest").frequencies.tolist() == [6, 4, 2]
    plan = sidon.solve(ruler(), method="lowest", iterations=2)
    assert (plan.served, plan.stop_reason) == (2, "iteration-limit")


def test_an_unknown_name_is_answered_with_all_names(shelf: Shelf) -> None:
    shelf.install("extra-search", {"lowest": "extra_search:lowest"})
    with pytest.raises(sidon.InvalidProblemError) as caught:
        sidon.solve(ruler(), method="highest")
    said = str(caught.value)
    assert "'highest' is not known" in said
    assert all(repr(name) in said for name in [*get_args(Method), "lowest"])


BROKEN = [
    ("absent_module:run", "ModuleNotFoundError: No module named 'absent_module'"),
    ("broken_search:absent", "AttributeError"),
    ("raising_search:run", "ZeroDivisionError: division by zero"),
    ("broken_search:number", "is an object of type int, not a callable"),
]


@pytest.mark.parametrize(("value", "why"), BROKEN)
def test_a_broken_method_names_its_package(shelf: Shelf, value: str, why: str) -> None:
    modules = {"broken_search": MODULE, "raising_search": "1 / 0"}
    shelf.install("broken-search", {"odd": value}, modules)
    assert sidon.methods()["odd"] == "broken-search 1.5"
    with pytest.raises(sidon.MethodError) as caught:
        sidon.solve(ruler(), method="odd")
    said = str(caught.value)
    assert "the method 'odd' of the package broken-search 1.5" in said
    assert why in said
    assert "mend or uninstall broken-search 1.5" in said
    assert (caught.value.__cause__ is None) == ("callable" in why)
    assert isinstance(caught.value, sidon.SidonError)
    # The others work on.
    assert sidon.solve(ruler(), method="dsatur").served == 3


def test_a_name_that_stands_twice_is_refused(shelf: Shelf) -> None:
    shelf.install("extra-search", {"lowest": "extra_search:lowest"}, {"extra_search": MODULE})
    shelf.install("other-search", {"lowest": "extra_search:highest"})
    assert sidon.methods()["lowest"] == "extra-search 1.5 and other-search 1.5"
    with pytest.raises(
        sidon.MethodError, match=r"of the package extra-search 1.5 and other-search"
    ):
        sidon.solve(ruler(), method="lowest")


def test_a_folder_that_stands_on_the_path_twice_is_no_clash(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf.install("extra-search", {"lowest": "extra_search:lowest"}, {"extra_search": MODULE})
    monkeypatch.syspath_prepend(f"{shelf.folder}/../{shelf.folder.name}")
    assert sidon.solve(ruler(), method="lowest").served == 3


def test_a_built_in_method_keeps_its_name(shelf: Shelf) -> None:
    shelf.install("extra-search", {"dsatur": "absent_module:run"})
    assert sidon.methods()["dsatur"] == "sidon"
    assert sidon.solve(ruler(), method="dsatur").served == 3


def test_a_study_takes_a_registered_method_and_a_callable(
    shelf: Shelf, study_fields: dict[str, Any]
) -> None:
    shelf.install("extra-search", {"lowest": "extra_search:lowest"}, {"extra_search": MODULE})
    study = sidon.Study.from_dict(study_fields)
    by_name = study.plan(method="lowest")
    by_name.check()
    assert "Search: lowest" in by_name.summary()
    assert len(by_name.assignments) > 5

    def nothing(state: sidon.State, run: sidon.Run) -> None:
        pass

    left_off = study.plan(method=nothing)
    assert left_off.check().hard == 0
    assert nothing.__qualname__ in left_off.summary()
    # The lock and the foreign carrier stand from the beginning.
    assert [row.link for row in left_off.assignments] == ["vox-1"]
