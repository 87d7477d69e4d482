"""Builds as setuptools does, and beyond that puts a prebuilt rulebook into a wheel.

The one thing of the build that pyproject.toml cannot say. PEP 517 names the hooks.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from setuptools import Distribution
from setuptools.build_meta import *  # noqa: F403 - the hooks that stay as they are
from setuptools.command.build_py import build_py
from setuptools.command.sdist import sdist

ROOT = Path(__file__).resolve().parents[1]


class BuildWithRulebook(build_py):
    """Copies the modules, and writes the rulebook of the rule files beside them."""

    def run(self) -> None:
        """Build; an editable install has nothing to copy, and keeps its rulebook in a cache."""
        super().run()
        if not self.editable_mode:
            sys.path.insert(0, str(ROOT))
            from orderlint.rulebook.load import ship  # noqa: PLC0415 - what it needs is there now

            ship(Path(self.build_lib, "orderlint", "rulebook", "prebuilt"))


class SourcesWithBackend(sdist):
    """Packs the sources, and this file, without which no wheel can be built of them."""

    def make_release_tree(self, base_dir: str, files: list[str]) -> None:
        """Copy what is packed."""
        own = str(Path(__file__).resolve().relative_to(ROOT))
        super().make_release_tree(base_dir, [*files, own])


COMMANDS = {"build_py": BuildWithRulebook, "sdist": SourcesWithBackend}


def _class_of_command(self: Distribution, command: str) -> Any:
    return COMMANDS.get(command) or _class_of(self, command)


_class_of = Distribution.get_command_class
Distribution.get_command_class = _class_of_command  # type: ignore[method-assign]
