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
HOOKS = {hook["id"]: hook for hook in core_yaml.load_file(ROOT / ".pre-commit-hooks.yaml")}
FOLDERS = {"orderlint-verify": "orders", "orderlint-review": "order-sets"}


def test_each_hook_has_what_the_framework_needs():
    # The framework's documentation, "Creating new hooks" (from memory): these four are required.
    assert set(HOOKS) == set(FOLDERS)
    for hook in HOOKS.values():
        assert {"id", "name", "entry", "language"} <= hook.keys()
        assert hook["language"] == "python"
        assert shlex.split(hook["entry"])[0] == "orderlint"


@pytest.mark.parametrize("name", HOOKS)
@pytest.mark.parametrize(
    ("file", "is_for_it"),
    [
        ("{}/a.yaml", True),
        ("ward/{}/b/a.json", True),
        ("{}/a.yml", True),
        ("{}/README.md", False),
        ("{}/order.schema.json", False),
        ("{}.yaml", False),
        ("pre{}/a.yaml", False),
    ],
)
def test_it_is_for_the_files_of_its_folder_alone(name, file, is_for_it):
    for hook, folder in FOLDERS.items():
        found = bool(re.search(HOOKS[name]["files"], file.format(folder)))
        assert found is (is_for_it and hook == name)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "example", "status"),
    [
        ("orderlint-verify", "clean", 0),
        ("orderlint-verify", "pause-limits-reversed", 1),
        ("orderlint-review", "set-irrigation-adult", 0),
        ("orderlint-review", "set-irrigation-corners", 1),
    ],
)
def test_it_passes_and_fails_as_it_should(name, example, status, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    folder = FOLDERS[name]
    Path(folder).mkdir()
    shutil.copy(CLEAN.with_stem(example), f"{folder}/{example}.yaml")
    _, *call = shlex.split(HOOKS[name]["entry"])
    assert run(*call, *AT, f"{folder}/{example}.yaml").status == status
