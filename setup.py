"""The one thing of the build that pyproject.toml cannot say: a wheel has its rulebook prebuilt."""

import sys
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

HERE = Path(__file__).resolve().parent


class BuildWithRulebook(build_py):
    """Copies the modules, and writes the rulebook of the rule files beside them."""

    def run(self):
        """Build; an editable install has nothing to copy, and keeps its rulebook in a cache."""
        super().run()
        if not self.editable_mode:
            sys.path.insert(0, str(HERE))
            from orderlint.rulebook.load import ship  # noqa: PLC0415 - what it needs is there now

            ship(Path(self.build_lib, "orderlint", "rulebook", "prebuilt"))


setup(cmdclass={"build_py": BuildWithRulebook})
