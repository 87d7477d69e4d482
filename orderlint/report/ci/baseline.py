"""Fingerprints of findings, and the baseline: the findings on order sets that were accepted.

A fingerprint is made of the rule that is broken, its level, the settings and their text, never of a
line. Only for order sets: a fault in a patient's order is never taken as known. Never hides a
finding.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter, defaultdict
from posixpath import normpath
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Finding, Level, Refused, Unchecked
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.reading.unicode_checks import decode_text
from orderlint.report.order.json import format_json
from orderlint.report.visible_text import safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult
    from orderlint.report.order.json import Member

FORMAT = "1"
LARGEST_BASELINE = 4 * 1024 * 1024  # bytes
MOST_NODES = 200_000
"""Keys and values of a baseline that is read; many order sets have more than a file of one may."""
MOST_WORDS = 100
"""Characters of what a finding says, so that the baseline of hundreds of sets can be read."""
_DIGITS = 32  # 128 bits of the digest
_DOCUMENT = "baseline"


class AcceptedSet(NamedTuple):
    """What was accepted of one order set: its id, '' if it has none, its file and fingerprints."""

    id: str
    file: str
    fingerprints: frozenset[str]

    def is_of(self, set_id: str, file: str) -> bool:
        """True if the file has the same name, and no other id."""
        return self.file == file and (not set_id or self.id in {"", set_id})


class Baseline(NamedTuple):
    """The accepted findings of each order set."""

    sets: tuple[AcceptedSet, ...]

    def accepted(self, set_id: str, file: str) -> frozenset[str]:
        """The fingerprints of an order set, known by its id; else by the name of its file.

        `set_id` is '' for a set without an id, or with one that is not its own alone.
        """
        by_id = [item for item in self.sets if set_id and item.id == set_id]
        by_file = [item for item in self.sets if item.is_of(set_id, normpath(file))]
        found = by_id if len(by_id) == 1 else by_file
        return frozenset().union(*(item.fingerprints for item in found))


def knows(accepted: frozenset[str], fingerprint: str) -> bool:
    """True if a finding was accepted, at its level or a heavier one."""
    key, _, level = fingerprint.rpartition(":")
    heavier = (other for other in Level if other.weight >= Level(level).weight)
    return any(f"{key}:{other}" in accepted for other in heavier)


def finding_key(finding: Finding) -> str:
    """Key of a finding: its rule, that which an order from a set breaks, and the settings.

    Of each setting that it names it has the text written there.
    """
    others = [(mention.path, mention.written) for mention in finding.also]
    settings = [(finding.path, finding.written), *others]
    return _key("found", finding.rule, finding.breaks, settings)


def unchecked_key(unchecked: Unchecked) -> str:
    """Key of an unchecked rule: the rule, and the missing settings."""
    return _key("open", unchecked.rule, "", [(path, "") for path in unchecked.missing])


def _key(state: str, rule: str, breaks: str, settings: Iterable[tuple[str, str]]) -> str:
    # Sorted: the order of keys in the file can decide which setting a finding names first.
    text = json.dumps([state, rule, breaks, sorted(settings)])
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:_DIGITS]


def fingerprints(keyed: Iterable[tuple[str, Level]]) -> tuple[str, ...]:
    """`key:number:level` of one document's findings in turn; equal keys have different numbers.

    They stay the same when lines move and keys of the file change places.
    """
    seen: dict[str, int] = defaultdict(int)
    made = []
    for key, level in keyed:
        seen[key] += 1
        made.append(f"{key}:{seen[key]}:{level}")
    return tuple(made)


def render(report: CiReport) -> str:
    """The baseline that accepts what is found now, ending in a line feed.

    What the policy suppresses is not in it: when the suppression ends, it is new.
    """
    sets: list[Member] = [_set_member(checked) for checked in report.checked]
    return format_json({"document": _DOCUMENT, "format": int(FORMAT), "sets": sets})


def _set_member(checked: CheckedDocument) -> Member:
    results = (result for result in checked.results if result.suppressed is None)
    accepted: Member = {result.fingerprint: _words(result) for result in results}
    return {"id": safe(checked.id), "file": safe(checked.file), "accepted": accepted}


def _words(result: CiResult) -> str:
    """What a reader of the file knows a finding by: the rule, and the beginning of its words."""
    finding = result.finding
    # What is said of an order from a set names the rule that it breaks.
    words = safe(finding.says if finding.breaks else f"{finding.rule}: {finding.says}")
    return words if len(words) <= MOST_WORDS else f"{words[: MOST_WORDS - 1].rstrip()}…"


def shared_ids(report: CiReport) -> set[str]:
    """The ids that more than one set has, and by which none of them is known."""
    counts = Counter(item.id for item in report.checked)
    return {name for name, count in counts.items() if count > 1}


def read_baseline(data: bytes, file: str) -> Baseline:
    """The baseline in a file. Raises Refused where it is none."""
    root = read_json(decode_text(data, file, LARGEST_BASELINE), file, MOST_NODES)
    top = _section(root, "A baseline")
    if top.get("documents") is not None:
        raise Refused(_REPORT, top.place)
    if _text(top, "document").text != _DOCUMENT:
        raise Refused(_ODD.format(f"`document: {_DOCUMENT}`"), top.place)
    form = top.get("format")
    if not isinstance(form, Scalar) or form.raw != FORMAT:
        raise Refused(f"This baseline has not format {FORMAT}.", (form or top).place)
    sets = top.get("sets")
    if not isinstance(sets, Listing):
        raise Refused(_ODD.format("a list `sets`"), (sets or top).place)
    return Baseline(tuple(_accepted_set(item) for item in sets.items))


def _accepted_set(node: Node) -> AcceptedSet:
    item = _section(node, "an order set")
    accepted = item.get("accepted")
    if not isinstance(accepted, Section):
        raise Refused(_ODD.format("a group `accepted`"), (accepted or item).place)
    prints = frozenset(_fingerprints(accepted))
    return AcceptedSet(_text(item, "id").text, normpath(_text(item, "file").text), prints)


def _fingerprints(accepted: Section) -> Iterator[str]:
    levels = {level.value for level in Level}
    for entry in accepted.entries:
        if entry.key.text.count(":") != 2 or entry.key.text.rpartition(":")[2] not in levels:
            raise Refused(_ODD.format("the fingerprint of a finding"), entry.key.place)
        yield entry.key.text


_ODD = "This is no baseline that orderlint wrote: {} is wanted here."
_REPORT = (
    "This is a report, and no baseline: a report does not say enough of each finding for a new one "
    "to be told from it. `review --format baseline` writes a baseline of order sets. What is wrong "
    "in a patient's order is asked about each time; nothing of it is taken as known."
)


def _section(node: Node, what: str) -> Section:
    if not isinstance(node, Section):
        raise Refused(_ODD.format(what), node.place)
    return node


def _text(parent: Section, key: str) -> Scalar:
    found = parent.get(key)
    if not isinstance(found, Scalar) or found.form != "text":
        raise Refused(_ODD.format(f"a text `{key}`"), (found or parent).place)
    return found
