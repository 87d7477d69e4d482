"""Which elements of a Questionnaire are read, which change nothing that can be signed, and ours.

What is on no list is not understood. Never what a value says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fhir.element import Element, fits, read_element
from orderlint.reading.node import KeyValue, Listing, Node, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping


QUESTIONNAIRE = "Questionnaire"

OURS = "https://orderlint.example/fhir/"
"""Where the names of our extensions begin: in a reserved domain, which nobody fetches."""
STEP = f"{OURS}set-step"
"""On a question: how far one of its options lies from the next, as the set has it."""
BLANK = f"{OURS}set-blank"
"""On a question with options: the set has a blank that they bound, to be written by hand."""
NOT_LISTED = f"{OURS}set-preset-not-listed"
"""On an option: it is the preset of the set, and not among the options that the set lists."""
AS_WRITTEN = f"{OURS}set-as-written"
"""On a date: all that the set says there."""
SET_ID = f"{OURS}order-set"
"""The system of the identifier that a set has by its `id:`."""

_SHOWN = "is shown to people, and no answer"
_RECORD = "names, dates or files the form"
_LOOKS = "says how the form looks"

_GROUP, _LIST = "Element", "Element*"
READ: Mapping[str, Mapping[str, str]] = {
    "Questionnaire": {
        **read_element("resourceType", "title", "version", "publisher", "status", "approvalDate"),
        **dict.fromkeys(("meta", "text", "_approvalDate", "effectivePeriod"), _GROUP),
        **dict.fromkeys(("identifier", "useContext", "contained", "item"), _LIST),
    },
    "item": {
        **read_element("linkId", "prefix", "text", "type", "enableBehavior"),
        **read_element("required", "readOnly", "repeats", "answerValueSet"),
        **dict.fromkeys(("code", "enableWhen", "answerOption", "initial", "item"), _LIST),
    },
    "enableWhen": read_element(
        "question", "operator", "answerString", "answerBoolean", answerCoding=_GROUP
    ),
    "answerOption": read_element(
        "valueString", "valueInteger", "initialSelected", valueCoding=_GROUP
    ),
    "initial": read_element(
        "valueString", "valueInteger", "valueBoolean", "valueDateTime", valueCoding=_GROUP
    ),
    "Coding": read_element("system", "code", "display"),
    "Period": read_element("end", _end=_GROUP),
}
"""Kind of element → JSON name → what stands there: one value, a section, or a list of sections."""

HARMLESS: Mapping[str, Mapping[str, str]] = {
    "Questionnaire": {
        **dict.fromkeys(("language", "url", "name", "date", "experimental"), _RECORD),
        **dict.fromkeys(("subjectType", "contact", "jurisdiction", "copyright"), _RECORD),
        **dict.fromkeys(("derivedFrom", "lastReviewDate", "code"), _RECORD),
        **dict.fromkeys(("description", "purpose"), _SHOWN),
    },
    "Coding": {
        "version": "is that of the code system",
        "userSelected": _RECORD,
    },
    "Period": {"start": "says from when the form is used"},
}
"""Kind of element → JSON name → why it changes nothing that can be signed."""

_STANDARD = "http://hl7.org/fhir/StructureDefinition/"
HARMLESS_EXTENSIONS: Mapping[str, str] = {
    f"{_STANDARD}questionnaire-itemControl": _LOOKS,
    f"{_STANDARD}questionnaire-choiceOrientation": _LOOKS,
    f"{_STANDARD}questionnaire-displayCategory": _LOOKS,
    f"{_STANDARD}questionnaire-supportLink": _SHOWN,
    f"{_STANDARD}questionnaire-optionPrefix": _SHOWN,
    f"{_STANDARD}entryFormat": _SHOWN,
    f"{_STANDARD}designNote": _SHOWN,
    f"{_STANDARD}ordinalValue": "is a score, and no answer",
}
"""Extensions of the standard, each with why it changes nothing that can be signed."""

READ_EXTENSIONS: Mapping[str, tuple[str, ...]] = {
    "item": (STEP, BLANK),
    "answerOption": (NOT_LISTED,),
}
"""Kind of element → extensions that are read there."""


def unread(element: Element, kind: str) -> Iterator[KeyValue]:
    """Each entry of an element of this kind that is not read and not known to change nothing.

    What is written otherwise than as the standard has it, a list in place of one value, counts as
    not read.
    """
    read, harmless = READ[kind], HARMLESS.get(kind, {})
    for entry in element.node.entries:
        key, node = entry.key.text, entry.value
        if key == "id" or key in harmless:
            continue
        if key in read:
            is_known = fits(node, read[key])
        elif key == "extension":
            is_known = _are_known(node, READ_EXTENSIONS.get(kind, ()))
        else:
            is_known = key.startswith("_") and _changes_nothing(node)
        if not is_known:
            yield entry


def unread_within(element: Element) -> Iterator[tuple[Element, KeyValue]]:
    """Each extension that is not known to change nothing, in a part of the head or below it, with
    the element in which it stands.
    """
    # INVARIANT: nodes are nested to a depth that reading limits, and so is this recursion.
    for entry in element.node.entries:
        key, node = entry.key.text, entry.value
        if key == "extension" or key.startswith("_"):
            if not (_are_known(node) or _changes_nothing(node)):
                yield element, entry
            continue
        for each in element.sections(key):
            yield from unread_within(each)


def _are_known(node: Node, read: Collection[str] = ()) -> bool:
    """Whether a list has nothing but extensions that are read, or change nothing."""
    items = node.items if isinstance(node, Listing) else ()
    urls = [item.get("url") for item in items if isinstance(item, Section)]
    return len(urls) == len(items) > 0 and all(
        isinstance(url, Scalar) and (url.text in read or url.text in HARMLESS_EXTENSIONS)
        for url in urls
    )


def _changes_nothing(node: Node) -> bool:
    """Whether what stands beside a value is its name in the file, or is known to change nothing."""
    return isinstance(node, Section) and all(
        entry.key.text == "id" or (entry.key.text == "extension" and _are_known(entry.value))
        for entry in node.entries
    )
