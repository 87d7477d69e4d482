"""Fingerprints of findings, and the baseline: which of them an earlier report had already.

A fingerprint is made of rule, settings and their text, never of a line. Only for order sets: a
fault in a patient's order is never taken as known. Never hides a finding.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from posixpath import normpath
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Level, Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Listing, Scalar, Section
from orderlint.reading.unicode_checks import decode_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Finding, Unchecked
    from orderlint.reading.node import Node

LARGEST_REPORT = 4 * 1024 * 1024  # bytes
MOST_NODES = 200_000
"""Keys and values of a report that is read; many order sets have more than a file of one may."""
_DIGITS = 32  # 128 bits of the digest
_KIND = "order-set"


class Baseline(NamedTuple):
    """An earlier report: by document, the level of each fingerprint."""

    levels: Mapping[str, Mapping[str, Level]]

    def knows(self, file: str, fingerprint: str, level: Level) -> bool:
        """True if the earlier report has it, at the same level or a heavier one.

        `file` is the name as the report shows it. A finding at a heavier level than before is new.
        """
        stood = self.levels.get(normpath(file), {}).get(fingerprint)
        return stood is not None and stood.weight >= level.weight


def finding_key(finding: Finding) -> str:
    """Key of a finding: its rule, and each setting that it names with the text written there."""
    others = [(mention.path, mention.written) for mention in finding.also]
    return _key("found", finding.rule, [(finding.path, finding.written), *others])


def unchecked_key(unchecked: Unchecked) -> str:
    """Key of an unchecked rule: the rule, and the missing settings."""
    return _key("open", unchecked.rule, [(path, "") for path in unchecked.missing])


def _key(state: str, rule: str, settings: Iterable[tuple[str, str]]) -> str:
    # Sorted: the order of keys in the file can decide which setting a finding names first.
    text = json.dumps([state, rule, sorted(settings)])
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:_DIGITS]


def fingerprints(keys: Iterable[str]) -> tuple[str, ...]:
    """The keys of one document's findings in turn, each numbered so that equal keys differ.

    They stay the same when lines move and keys of the file change places.
    """
    seen: dict[str, int] = defaultdict(int)
    numbered = []
    for key in keys:
        seen[key] += 1
        numbered.append(f"{key}:{seen[key]}")
    return tuple(numbered)


def read_baseline(data: bytes, file: str) -> Baseline:
    """The baseline that a JSON report on order sets makes.

    Raises Refused where it is no such report, or is one on a patient's order.
    """
    root = read_json(decode_text(data, file, LARGEST_REPORT), file, MOST_NODES)
    report = _section(root, "A report")
    form = report.get("format")
    if not isinstance(form, Scalar) or form.raw != "1":
        place = form.place if form else root.place
        raise Refused("This is no report that orderlint wrote: `format` is not 1.", place)
    levels: dict[str, dict[str, Level]] = defaultdict(dict)
    for document in _sections(report, "documents"):
        _check_kind(document)
        for fingerprint, level in _of_document(document):
            stood = levels[normpath(_text(document, "file").text)]
            stood[fingerprint] = max(level, stood.get(fingerprint, level), key=_weight)
    return Baseline(levels)


def _check_kind(document: Section) -> None:
    kind = _text(document, "document")
    if kind.text != _KIND:
        message = (
            "A baseline is a report on order sets. What is wrong in a patient's order is asked "
            "about each time; nothing of it is taken as known."
        )
        raise Refused(message, kind.place)


def _of_document(document: Section) -> Iterator[tuple[str, Level]]:
    found, left = _sections(document, "findings"), _sections(document, "unchecked")
    keys = [*map(_found_key, found), *map(_open_key, left)]
    levels = [_level(_text(record, "level")) for record in (*found, *left)]
    return zip(fingerprints(keys), levels, strict=True)


def _found_key(record: Section) -> str:
    settings = [record, *_sections(record, "also")]
    written = [(_text(item, "path").text, _text(item, "written").text) for item in settings]
    return _key("found", _text(record, "rule").text, written)


def _open_key(record: Section) -> str:
    missing = [_path(item) for item in _items(record, "missing")]
    return _key("open", _text(record, "rule").text, [(path, "") for path in missing])


def _path(node: Node) -> str:
    if not isinstance(node, Scalar):
        raise Refused(_ODD.format("the path of a setting"), node.place)
    return node.text


def _level(text: Scalar) -> Level:
    try:
        return Level(text.text)
    except ValueError:
        raise Refused(_ODD.format("a level"), text.place) from None


def _weight(level: Level) -> int:
    return level.weight


_ODD = "This is no report that orderlint wrote: {} is wanted here."


def _section(node: Node, what: str) -> Section:
    if not isinstance(node, Section):
        raise Refused(_ODD.format(what), node.place)
    return node


def _items(parent: Section, key: str) -> tuple[Node, ...]:
    found = parent.get(key)
    if not isinstance(found, Listing):
        raise Refused(_ODD.format(f"a list `{key}`"), (found or parent).place)
    return found.items


def _sections(parent: Section, key: str) -> list[Section]:
    return [_section(item, f"an item of `{key}`") for item in _items(parent, key)]


def _text(parent: Section, key: str) -> Scalar:
    found = parent.get(key)
    if not isinstance(found, Scalar) or found.form != "text":
        raise Refused(_ODD.format(f"a text `{key}`"), (found or parent).place)
    return found
