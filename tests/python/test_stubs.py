"""The types that callers see: what the package exports, and that its stub is complete."""

from __future__ import annotations

import ast
import inspect
from importlib.resources import files

import sidon
from sidon import _engine


def stub() -> str:
    return files("sidon").joinpath("_engine.pyi").read_text(encoding="utf-8")


def test_the_package_is_marked_as_typed() -> None:
    assert files("sidon").joinpath("py.typed").is_file()


def test_the_stub_knows_every_type() -> None:
    # `Incomplete` is what the generator writes where it knows no type.
    assert "Incomplete" not in stub()
    assert "-> Any" not in stub()


def test_the_stub_names_all_that_the_engine_has() -> None:
    tree = ast.parse(stub())
    named = {node.name for node in tree.body if isinstance(node, ast.FunctionDef | ast.ClassDef)}
    assert named == {name for name in dir(_engine) if not name.startswith("_")}


def test_every_export_exists_and_is_documented() -> None:
    for name in sidon.__all__:
        value = getattr(sidon, name)
        if inspect.isclass(value) or inspect.isroutine(value):
            assert inspect.getdoc(value), name
