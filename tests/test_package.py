"""What is shipped is what is there, and the public list can be had."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import orderlint

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_every_package_is_shipped():
    folders = {path.parent for path in (ROOT / "orderlint").rglob("*.py")}
    there = {".".join(folder.relative_to(ROOT).parts) for folder in folders}
    data = {"orderlint.rules", "orderlint.schemas"}
    assert set(PROJECT["tool"]["setuptools"]["packages"]) == there | data


def test_the_version_stands_once_in_each_place():
    assert PROJECT["project"]["version"] == orderlint.__version__


@pytest.mark.parametrize("name", orderlint.__all__)
def test_a_public_name_can_be_had(name):
    assert getattr(orderlint, name)


def test_another_name_cannot():
    with pytest.raises(AttributeError, match="no attribute 'utils'"):
        orderlint.utils  # noqa: B018
