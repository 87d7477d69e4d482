"""The hooks for the pre-commit framework are calls that work, on the files they are for."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import core_yaml
import pytest
from running import AT, CLEAN, run

ROOT = Path(__file__).resolve().parents[1]
(HOOK,) = core_yaml.load_file(ROOT / ".pre-commit-hooks.yaml")


def test_the_hook_has_what_the_framework_needs():
    # The framework's documentation, "Creating new hooks" (from memory): these four are required.
    assert {"id", "name", "entry", "language"} <= HOOK.keys()
    assert HOOK["language"] == "python"
    assert shlex.split(HOOK["entry"])[0] == "orderlint"


@pytest.mark.parametrize(
    ("file", "is_order"),
    [
        ("orders/a.yaml", True),
        ("ward/orders/b/a.json", True),
        ("orders/a.yml", True),
        ("orders/README.md", False),
        ("orders.yaml", False),
        ("preorders/a.yaml", False),
    ],
)
def test_it_is_for_orders(file, is_order):
    assert bool(re.search(HOOK["files"], file)) is is_order


@pytest.mark.parametrize(("name", "status"), [("clean", 0), ("pause-limits-reversed", 1)])
def test_it_passes_and_fails_as_it_should(name, status, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("orders").mkdir()
    shutil.copy(CLEAN.with_stem(name), f"orders/{name}.yaml")
    _, *call = shlex.split(HOOK["entry"])
    assert run(*call, *AT, f"orders/{name}.yaml").status == status
