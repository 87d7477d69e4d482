"""What is shipped is what is there, and the public list can be had."""

from __future__ import annotations

import dataclasses
import importlib
import tomllib
from collections import Counter
from pathlib import Path

import pytest

import orderlint

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_every_package_is_shipped():
    folders = {path.parent for path in (ROOT / "orderlint").rglob("*.py")}
    there = {".".join(folder.relative_to(ROOT).parts) for folder in folders}
    data = {"orderlint.report.pages", "orderlint.rules", "orderlint.schemas"}
    assert set(PROJECT["tool"]["setuptools"]["packages"]) == there | data


def modules():
    for path in sorted((ROOT / "orderlint").rglob("*.py")):
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        if path.stem != "__main__":
            yield importlib.import_module(name.removesuffix(".__init__"))


def test_every_dataclass_is_frozen_and_has_slots():
    found = {
        kind
        for module in modules()
        for kind in vars(module).values()
        if isinstance(kind, type) and dataclasses.is_dataclass(kind)
    }
    assert {kind.__name__ for kind in found} >= {"Leaf", "Order", "OrderSet", "Plan", "Scope"}
    for kind in found:
        assert kind.__dataclass_params__.frozen or kind.__name__.startswith("_"), kind
        assert "__slots__" in vars(kind), kind


def test_each_class_has_a_name_of_its_own():
    kinds = (
        kind
        for module in modules()
        for kind in vars(module).values()
        if isinstance(kind, type) and kind.__module__ == module.__name__
    )
    found = Counter(kind.__name__.removeprefix("_") for kind in kinds)
    assert len(found) > 200
    assert [name for name, count in found.items() if count > 1] == []


def test_the_version_stands_once_in_each_place():
    assert PROJECT["project"]["version"] == orderlint.__version__


@pytest.mark.parametrize("name", orderlint.__all__)
def test_a_public_name_can_be_had(name):
    assert getattr(orderlint, name)


def test_another_name_cannot():
    with pytest.raises(AttributeError, match="no attribute 'utils'"):
        orderlint.utils  # noqa: B018
