"""YAML as the 1.2 core schema reads it, by PyYAML with its 1.1 resolvers replaced.

An oracle apart from the project's own reading: `yes`, `on` and a time stay text.
"""

from __future__ import annotations

import copy
import functools
import re
from typing import TYPE_CHECKING, Any

import yaml

if TYPE_CHECKING:
    from pathlib import Path


class CoreLoader(yaml.SafeLoader):
    pass


# YAML 1.2.2, section 10.3.2, "Tag resolution"; base-8 and base-16 integers are left out.
CoreLoader.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("null", r"null|Null|NULL|~|", ["n", "N", "~", ""]),
    ("bool", r"true|True|TRUE|false|False|FALSE", list("tTfF")),
    ("int", r"[-+]?[0-9]+", list("-+0123456789")),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", list("-+.0123456789")),
):
    CoreLoader.add_implicit_resolver(
        f"tag:yaml.org,2002:{_tag}", re.compile(rf"(?:{_pattern})\Z"), _first
    )


class OfFiles(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):
    """The same by libyaml, for files of this tree: test_read.py holds that both take them alike."""

    yaml_implicit_resolvers = CoreLoader.yaml_implicit_resolvers


def load(text: str) -> Any:
    return yaml.load(text, CoreLoader)


def load_file(path: Path) -> Any:
    """What is in a file, each time anew; it is read and taken apart once."""
    return copy.deepcopy(_loaded(path))


@functools.cache
def _loaded(path: Path) -> Any:
    return yaml.load(path.read_text(encoding="utf-8"), OfFiles)
