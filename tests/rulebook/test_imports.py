"""The modules of the rulebook and of the language import each other one way only."""

from __future__ import annotations

import ast
import graphlib
from pathlib import Path

import pytest

import orderlint

ROOT = Path(orderlint.__file__).parent


def imports(path: Path) -> set[str]:
    """The modules that one imports anywhere: at its top, in a function or for its types."""
    named = (node for node in ast.walk(ast.parse(path.read_text())) if type(node) is ast.ImportFrom)
    return {name for node in named for name in _modules(node)}


def _modules(node: ast.ImportFrom) -> set[str]:
    return {node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)}


def graph(room: str) -> dict[str, set[str]]:
    paths = sorted(ROOT.glob(f"{room}/**/*.py"))
    names = {
        path: ".".join(("orderlint", *path.relative_to(ROOT).with_suffix("").parts))
        for path in paths
    }
    inside = {*names.values()}
    return {names[path]: imports(path) & inside for path in paths}


@pytest.mark.parametrize("room", ["rulebook", "language"])
def test_no_module_leads_back_to_itself(room):
    order = [*graphlib.TopologicalSorter(graph(room)).static_order()]
    assert len(order) == len([*ROOT.glob(f"{room}/**/*.py")]) > 10


def test_what_is_imported_is_found_in_functions_and_for_types_too():
    found = graph("rulebook")
    assert "orderlint.rulebook.policy.document" in found["orderlint.rulebook.build"]
    assert "orderlint.rulebook.citation" in found["orderlint.rulebook.rule"]
