"""The notebooks run from top to bottom, and are stored without outputs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def cells(path: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return found


def test_there_are_notebooks() -> None:
    assert FOLDER / "heuristics.ipynb" in NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_runs(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {"__name__": "notebook"}
    for i, cell in enumerate(cells(path)):
        if cell["cell_type"] == "code":
            exec(compile("".join(cell["source"]), f"{path.name}[{i}]", "exec"), names)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_holds_no_outputs(path: Path) -> None:
    for cell in cells(path):
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None
