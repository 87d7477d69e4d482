"""Writes the nodes of an order set as YAML. Each value as it was written, and none of our own."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from orderlint.order_set.slot_reader import LIMITS
from orderlint.reading.node import Node, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Iterator


_PLAIN = re.compile(r"(?:-?\d+(?:\.\d+)? )?[A-Za-z](?:[A-Za-z0-9 /%.'-]*[A-Za-z0-9%])?")
"""A text that is read as it is, without quotes, wherever it stands."""
_NO_TEXT = frozenset({"null", "true", "false", "yes", "no", "on", "off", "y", "n"})
"""Words that one reader or another of YAML takes for something else than a text."""


def order_set_yaml(root: Section) -> str:
    """The document of an order set that has these nodes, in their order."""
    return "".join(f"{line}\n" for line in _lines(root, "", depth=0))


def _lines(section: Section, indent: str, depth: int) -> Iterator[str]:
    """A section a key a line; what stands at a setting, and beside its settings, in one line."""
    for key, node in section.entries:
        if isinstance(node, Section) and _has_lines(node, depth):
            yield f"{indent}{key.text}:"
            yield from _lines(node, f"{indent}  ", depth + 1)
        else:
            yield f"{indent}{key.text}: {in_one_line(node)}"


def _has_lines(section: Section, depth: int) -> bool:
    inner = [key.text for key, node in section.entries if isinstance(node, Section)]
    return depth == 0 or inner not in ([], [LIMITS])


def in_one_line(node: Node) -> str:
    """What stands at a setting of a set, in flow style."""
    if isinstance(node, Scalar):
        return node.text if node.form == "number" else _scalar(node.text)
    if isinstance(node, Section):
        return (
            f"{{{', '.join(f'{key.text}: {in_one_line(value)}' for key, value in node.entries)}}}"
        )
    return f"[{', '.join(map(in_one_line, node.items))}]"


def _scalar(text: str) -> str:
    is_plain = _PLAIN.fullmatch(text) and text.lower() not in _NO_TEXT
    return text if is_plain else json.dumps(text, ensure_ascii=False)
