"""Writes a report as SARIF 2.1.0, the OASIS standard for results of static analysis.

Names and order of the members. Never a decision, and never wording of its own.
"""

from __future__ import annotations

import re
from pathlib import PurePath
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import quote

from orderlint import __version__
from orderlint.reading import STDIN
from orderlint.report.ci.model import finding_and_question, suppression_words, unfilled
from orderlint.report.order.json import format_json, found_member
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION, SEVERITIES
from orderlint.rulebook.citation import cited
from orderlint.rulebook.rule import CodeRule, Rule

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.finding import Finding, NamedSetting, Place, Suppressed
    from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult
    from orderlint.report.order.json import Member
    from orderlint.report.unchecked_files import Unread

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
FINGERPRINT = "ruleLevelAndSettings/v1"
"""The name (3.27.17) of what a result is known by; another way to make it gets another number."""
_BRACES = str.maketrans({"{": "{{", "}": "}}"})


def render(report: CiReport, here: str = "") -> str:
    """One run with all results, ending in a line feed; the same input, the same text.

    Names of files under the folder `here`, if it is given, are made relative to it.
    """
    run = _run(report, _files(report, here))
    log: Member = {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}
    return format_json(log)


def artifact_uri(file: str, here: str = "") -> str:
    """A file's name as a URI reference (RFC 3986), relative where it can be.

    Bytes that are not UTF-8 stand as they are in the file system.
    """
    path = PurePath(file)
    if here and path.is_absolute() and path.is_relative_to(here):
        path = path.relative_to(here)
    name = path.as_posix()
    if path.is_absolute():  # two slashes would be read as a host
        name = f"/{name.lstrip('/')}"
    # A surrogate that stands for no byte can come from no file system, and has bytes all the same.
    surrogates = [c for c in name if "\ud800" <= c <= "\udfff"]
    of_bytes = all("\udc80" <= c <= "\udcff" for c in surrogates)
    errors = "surrogateescape" if of_bytes else "surrogatepass"
    quoted = quote(name.encode("utf-8", errors), safe="/")
    return f"file://{quoted}" if path.is_absolute() else quoted


class _Artifacts(NamedTuple):
    """The files that a run names, each with its index among the artifacts."""

    here: str
    indices: Mapping[str, int]


def _files(report: CiReport, here: str) -> _Artifacts:
    files = [item.file for item in report.checked]
    files += [item.file for item in report.unread]
    files += [place.file for place in _places(report)]
    return _Artifacts(here, {file: index for index, file in enumerate(dict.fromkeys(files))})


def _places(report: CiReport) -> Iterator[Place]:
    """Every place that the run names; some are in the policy's file."""
    yield from (item.place for item in report.unread if item.place)
    for result in (result for checked in report.checked for result in checked.results):
        yield result.finding.place
        yield from (mention.place for mention in result.finding.also if mention.place)
        if result.suppressed:
            yield result.suppressed.place


def _location(file: str, files: _Artifacts) -> dict[str, Member]:
    return {"uri": artifact_uri(file, files.here), "index": files.indices[file]}


def _artifacts(report: CiReport, files: _Artifacts) -> Iterator[Member]:
    checked = {item.file: item for item in report.checked}
    for file in files.indices:
        location: dict[str, Member] = {"uri": artifact_uri(file, files.here)}
        if file == STDIN:
            location["description"] = {"text": "Standard input"}
        yield {"location": location, **(_artifact(checked[file]) if file in checked else {})}


def _artifact(checked: CheckedDocument) -> dict[str, Member]:
    basis = " ".join(_message_text(text) for text in (*checked.warnings, *checked.basis))
    return {
        "roles": ["analysisTarget"],
        "description": {"text": basis},
        "properties": {"document": checked.kind, "verdict": checked.verdict.value},
    }


def _run(report: CiReport, files: _Artifacts) -> Member:
    indices = {rule: index for index, rule in enumerate(report.rules)}
    results = [item for checked in report.checked for item in checked.results]
    # 3.27.23: either every result of a run has `suppressions`, or none has.
    has_suppressions = any(item.suppressed for item in results)
    told = [_result(item, indices, files, has_suppressions) for item in results]
    driver: Member = {
        "name": "orderlint",
        "semanticVersion": __version__,
        "fullDescription": {"text": CAUTION},
        "rules": [_rule(rule) for rule in report.rules.values()],
    }
    return {
        "tool": {"driver": driver},
        "invocations": [_invocation(report, files)],
        "artifacts": [*_artifacts(report, files)],
        "defaultEncoding": "UTF-8",
        "columnKind": "unicodeCodePoints",
        "results": told,
    }


def _rule(rule: Rule) -> Member:
    """A rule (3.49); one that the policy leaves out whole is not enabled."""
    is_asked = isinstance(rule, CodeRule) or bool(rule.instances)
    return {
        "id": rule.id,
        "shortDescription": {"text": _message_text(unfilled(rule.says))},
        "fullDescription": {"text": _message_text(unfilled(rule.why))},
        "help": {"text": _message_text(f"Ask the {rule.ask_whom}: {unfilled(rule.ask)}")},
        "defaultConfiguration": {"level": SEVERITIES[rule.level], "enabled": is_asked},
        "properties": {
            "source": safe(cited(rule.sources)),
            "family": safe(rule.family),
            "notAsked": [safe(reason) for reason in rule.inactive],
        },
    }


def _result(
    result: CiResult, indices: Mapping[str, int], files: _Artifacts, has_suppressions: bool
) -> Member:
    finding = result.finding
    member: dict[str, Member] = {
        "ruleId": finding.about,
        "ruleIndex": indices[finding.about],
        # 3.27.9: `open` is a rule for which there was too little to decide by; 3.27.10: the level
        # of what is not `fail` is `none`.
        "kind": "open" if result.is_open else "fail",
        "level": "none" if result.is_open else SEVERITIES[finding.level],
        "message": {"text": _message_text(finding_and_question(finding))},
        "locations": [_finding_place(finding, files)],
        "partialFingerprints": {FINGERPRINT: result.fingerprint},
        "properties": _properties(finding),
    }
    if finding.also:
        member["relatedLocations"] = [
            _related(number, mention, finding, files)
            for number, mention in enumerate(finding.also, 1)
        ]
    if has_suppressions:
        told = result.suppressed
        member["suppressions"] = [_suppression(told, files)] if told else []
    if result.known is not None:
        member["baselineState"] = "unchanged" if result.known else "new"
    return member


def _properties(finding: Finding) -> Member:
    return {
        **found_member(finding),
        "level": finding.level.value,
        "path": safe(finding.path),
        "written": safe(finding.written),
        "expected": safe(finding.expected),
        "why": safe(finding.why),
        "source": safe(finding.source),
    }


def _finding_place(finding: Finding, files: _Artifacts) -> Member:
    member: dict[str, Member] = {"physicalLocation": _physical(finding.place, files)}
    named: list[Member] = [
        {"fullyQualifiedName": safe(name)} for name in (finding.path, finding.place.element) if name
    ]
    if named:
        member["logicalLocations"] = named
    return member


def _related(number: int, mention: NamedSetting, finding: Finding, files: _Artifacts) -> Member:
    words = f"{mention.name}: {mention.written or 'nothing'}"
    return {
        "id": number,
        "physicalLocation": _physical(mention.place or finding.place, files),
        "logicalLocations": [{"fullyQualifiedName": safe(mention.path)}],
        "message": {"text": _message_text(words)},
    }


def _physical(place: Place, files: _Artifacts) -> Member:
    return {
        "artifactLocation": _location(place.file, files),
        "region": {"startLine": place.line, "startColumn": place.column},
    }


def _suppression(told: Suppressed, files: _Artifacts) -> Member:
    return {
        "kind": "external",
        "status": "accepted",
        "justification": safe(suppression_words(told)),
        "location": {"physicalLocation": _physical(told.place, files)},
    }


def _invocation(report: CiReport, files: _Artifacts) -> Member:
    notifications = [_notification(item, files) for item in report.unread]
    member: dict[str, Member] = {"executionSuccessful": not notifications}
    if STDIN in files.indices:
        member["stdin"] = _location(STDIN, files)
    member["toolExecutionNotifications"] = [*notifications]
    return member


def _notification(item: Unread, files: _Artifacts) -> Member:
    """A file that was not checked (3.58)."""
    whole: Member = {"artifactLocation": _location(item.file, files)}
    physical = _physical(item.place, files) if item.place else whole
    return {
        "level": "error",
        "message": {"text": _message_text(item.reason)},
        "locations": [{"physicalLocation": physical}],
    }


def _message_text(text: str) -> str:
    """A text as a message, without placeholders (3.11.5) and embedded links (3.11.6)."""
    shown = safe(text).translate(_BRACES)
    return re.sub(r"([\\\[\]])", r"\\\1", shown) if "](" in shown else shown
