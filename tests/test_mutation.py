"""What is said of mutants speaks of lines that are there; the mutants themselves take hours."""

from __future__ import annotations

import ast
import inspect
from importlib import import_module
from pathlib import Path

import pytest
import yaml

TESTS = Path(__file__).parent
EXPLAINED, ROOMS = (
    yaml.safe_load((TESTS / "mutation" / name).read_text(encoding="utf-8"))
    for name in ("equivalent.yaml", "rooms.yaml")
)


@pytest.mark.parametrize("entry", EXPLAINED, ids=lambda entry: f"{entry['module']}.{entry['in']}")
def test_a_mutant_is_explained_of_a_line_that_stands(entry):
    found = inspect.getsource(import_module(entry["module"]))
    for name in filter(None, entry["in"].split(".")):  # '' is the module, and A.b a method
        (found,) = (
            ast.get_source_segment(found, node)
            for node in ast.walk(ast.parse(found))
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name == name
        )
    assert " ".join(entry["was"].split()) in " ".join(found.split())
    assert entry["was"] != entry["becomes"]


def test_the_rooms_and_their_tests_are_there():
    for module, tests in ROOMS.items():
        assert import_module(module)
        assert all((TESTS.parent / name).is_file() for name in tests), module
