"""The YAML test suite: texts that are YAML 1.2, most with their value as JSON, and that are none.

Two layouts are read: its data branch (folders with `in.yaml`, `in.json`, `error`), and the modules
of the npm package (`data/*.js`). Our reader reads a part of YAML only.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any, NamedTuple

from public_suites.outcomes import Suite, outcome_of, reason_of

from orderlint.reading.from_yaml import read_yaml
from orderlint.reading.node import Node, Scalar, Section
from orderlint.reading.unicode_checks import decode_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


OTHERWISE = {"L24T-1": "white space in the last line, which no check reads"}
"""Cases that libyaml reads otherwise than the suite, in nothing that matters, and how."""


class Case(NamedTuple):
    """`value` is the JSON text of its documents, one after another, where the suite has it."""

    name: str
    text: str
    is_wrong: bool
    value: str | None


def check_yaml(folder: Path) -> Suite:
    """Read every case below `folder`: none that is no YAML may be read, and none read otherwise."""
    suite = Suite("YAML test suite")
    for case in (*_modules(folder), *_folders(folder)):
        data = case.text.encode("utf-8", "surrogatepass")
        node, message = outcome_of(lambda data=data: read_yaml(decode_text(data, "case"), "case"))
        kind = "no YAML" if case.is_wrong else "YAML"
        if case.is_wrong and not message:
            suite.fail(case.name, "this is no YAML, and was read")
        elif not (message or case.name in OTHERWISE or _is_value(node, case.value)):
            suite.fail(case.name, f"read as {node}, and not as {case.value}")
        reason = "" if case.is_wrong or not message else f": {reason_of(message)}"
        suite.add(f"{kind}, {'refused' if message else 'read'}{reason}", case.name)
    return suite


def _modules(folder: Path) -> Iterator[Case]:
    for path in sorted(folder.rglob("data/*.js")):
        made = re.search(r"export default (\{.*\})\s*;?\s*\Z", path.read_text("utf-8"), re.DOTALL)
        for number, case in enumerate(json.loads(made[1])["cases"] if made else ()):
            yield Case(f"{path.stem}-{number}", case["yaml"], "fail" in case, case.get("json"))


def _folders(folder: Path) -> Iterator[Case]:
    for path in sorted(folder.rglob("in.yaml")):
        value = path.with_name("in.json")
        # Of a name with several cases, each has a folder with its number.
        named = re.fullmatch(r"(?:.*/)?(\w{4})(?:/(\d+))?", path.parent.as_posix())
        yield Case(
            f"{named[1]}-{int(named[2] or 0)}" if named else str(path.parent),
            path.read_bytes().decode("utf-8"),
            path.with_name("error").exists(),
            value.read_text("utf-8") if value.exists() else None,
        )


def _is_value(node: Node | None, value: str | None) -> bool:
    """True if a tree is the one document of `value`, or nothing is known of it."""
    if value is None:
        return True
    decoder, documents, rest = json.JSONDecoder(), [], value.strip()
    while rest:
        document, end = decoder.raw_decode(rest)
        documents.append(document)
        rest = rest[end:].lstrip()
    return len(documents) == (node is not None) and all(_equal(node, each) for each in documents)


def _equal(node: Node | None, value: Any) -> bool:
    if isinstance(node, Section):
        entries = {entry.key.text: entry.value for entry in node.entries}
        return (
            isinstance(value, dict)
            and list(entries) == list(value)
            and all(_equal(entries[key], each) for key, each in value.items())
        )
    if not isinstance(node, Scalar):
        items = node.items if node else ()
        return (
            isinstance(value, list) and len(items) == len(value) and all(map(_equal, items, value))
        )
    if node.form == "nothing":
        return value is None
    if node.form == "truth":
        return value is (node.text.lower() == "true")
    if node.form == "number" and not isinstance(value, str):
        return Fraction(node.text) == Fraction(str(value))
    return node.text == value
