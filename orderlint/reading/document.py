"""Reads the bytes of one file into a Document of known kind and supported format.

Judges only the two head lines. Never the fields of any kind of document.
"""

from __future__ import annotations

from typing import NamedTuple

from orderlint.finding import Fault, Place, Refused
from orderlint.reading.node import Node, Scalar, Section

STDIN = "<stdin>"
"""The name under which standard input is read."""
TEXT = "<text>"
"""The name of text or bytes that came without one."""
MAPPING = "<mapping>"
"""The name of a mapping that came without one."""

# What `document:` may say, and how it is said in a sentence.
KINDS = {
    "order": "an order",
    "draft": "a draft of an order",
    "order-set": "an order set",
    "site-policy": "a site policy",
    "settings-seen": "settings seen at the bedside",
    "read-back-kept": "a read-back that was stopped",
    "rules": "a file of rules",
    "table-map": "a map of the columns of a table",
    "trust": "whose tokens a service takes",
}
FHIR = "fhir"
"""The kind of a resource of FHIR, which has `resourceType` in place of `document`."""
_RESOURCE = "a resource of FHIR"
FORMATS = {"read-back-kept": "2"}
"""The format of a kind of document where it is not the first."""


_FHIR_IN_XML = "http://hl7.org/fhir"


class Document(NamedTuple):
    """One file as read. `kind` is what `document:` says, one of KINDS, or FHIR; `root` is all.

    `not_understood` is what stands in a resource of FHIR and has no place in a document of ours.
    """

    file: str
    kind: str
    root: Section
    not_understood: tuple[Fault, ...] = ()


def read(
    data: bytes,
    file: str,
    expect: str | None = None,
    *,
    json: bool | None = None,
    skip: frozenset[str] = frozenset(),
) -> Document:
    """Read one YAML or JSON file.

    `file` is the name that places carry (STDIN for standard input). `expect` is the one kind of
    document that is wanted, or None for any. `json` says that it is JSON, or YAML; where it is
    None, the name says so. In YAML, entries under a key of `skip` are left out, at any depth:
    parsed, but not checked; only for the tool's own files. Raises Refused, and nothing else,
    whatever the bytes.
    """
    from orderlint.reading.unicode_checks import decode_text  # noqa: PLC0415 - cold start

    text = decode_text(data, file)
    if not text.strip():
        raise Refused("The file is empty.", file)
    if text.lstrip().startswith("<") and _FHIR_IN_XML in text:
        raise Refused("This is XML; a resource of FHIR is read as JSON.", Place(file, 1, 1))
    root = _tree(text, file, _is_json(text, file) if json is None else json, skip)
    if root is None or (isinstance(root, Scalar) and root.form == "nothing"):
        raise Refused("The file has nothing in it.", file)
    if not isinstance(root, Section):
        what = "one value" if isinstance(root, Scalar) else "a list"
        message = f"The file is {what}. It must be names with values, such as `document: order`."
        raise Refused(message, root.place)
    if root.get("document") is None and isinstance(root.get("resourceType"), Scalar):
        return _resource(root, file, expect)
    kind = _kind(root, file, expect)
    _check_format(root, file, FORMATS.get(kind, "1"))
    return Document(file, kind, root)


def _resource(root: Section, file: str, expect: str | None) -> Document:
    if expect not in {None, FHIR}:
        raise Refused(f"This is {_RESOURCE}; {KINDS[str(expect)]} is wanted.", root.place)
    return Document(file, FHIR, root)


def kind_words(document: Document) -> str:
    """What a document is, in a sentence."""
    return KINDS.get(document.kind, _RESOURCE)


def _is_json(text: str, file: str) -> bool:
    """By the name of a file; by the first character where there is no name that says anything."""
    nameless = file in {STDIN, TEXT, MAPPING}
    return file.lower().endswith(".json") or (nameless and text.lstrip().startswith("{"))


def _tree(text: str, file: str, json: bool, skip: frozenset[str]) -> Node | None:
    # Only the parser that is needed is imported: either costs milliseconds.
    if json:
        from orderlint.reading.from_json import read_json  # noqa: PLC0415

        return read_json(text, file)
    from orderlint.reading.from_yaml import read_yaml  # noqa: PLC0415

    return read_yaml(text, file, skip)


def _kind(root: Section, file: str, expect: str | None) -> str:
    value = root.get("document")
    known = ", ".join(KINDS)
    if value is None:
        raise Refused(f"`document:` is missing. It must be one of: {known}.", Place(file, 1, 1))
    if not isinstance(value, Scalar) or value.text not in KINDS:
        raise Refused(f"`document:` is {_shown(value)}. It must be one of: {known}.", value.place)
    if expect is not None and value.text != expect:
        wanted = KINDS.get(expect, _RESOURCE)
        raise Refused(f"This is {KINDS[value.text]}; {wanted} is wanted here.", value.place)
    return value.text


def _check_format(root: Section, file: str, due: str) -> None:
    value = root.get("format")
    if value is None:
        raise Refused(f"`format:` is missing. It must be {due}.", Place(file, 1, 1))
    if not isinstance(value, Scalar) or value.form != "number" or value.text != due:
        raise Refused(
            f"`format:` is {_shown(value)}. It must be {due}, without quotes.", value.place
        )


def _shown(value: Node) -> str:
    if not isinstance(value, Scalar):
        return "a section" if isinstance(value, Section) else "a list"
    if not value.raw:
        return "empty"
    written = " ".join(value.raw.split())
    return written if len(written) <= 40 else written[:40] + "…"
