"""Reads the settings of a DeviceRequest or ServiceRequest, each with the code that names it.

Never compares two settings, and never what the request as a whole may not be.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint.fhir.bundle.elements import whole_not_understood
from orderlint.fhir.bundle.values import Value, plain_text, value_in
from orderlint.fhir.codes import ORDER, codes_by_name, codes_by_words, setting_codes, words_of
from orderlint.fhir.element import Element, as_written
from orderlint.field import casefold_spaces, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, NotUnderstood

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.reading.node import Scalar


class RequestedSetting(NamedTuple):
    """What a part of an order says of one setting; `by_drug` where that is the drug part.

    `is_amount` says that it stands there as a number and a unit apart, which a drug part has too.
    """

    path: str
    value: Value
    by_drug: bool = False
    is_amount: bool = False


Reading: TypeAlias = "RequestedSetting | NotUnderstood | Fault"

NAMES_TWO = "fhir-code-names-two"
STATUSES = {"draft": "draft", "active": "active", "completed": "ended", "revoked": "ended"}
"""Status of a request → of an order. Of the others, none is a status that an order can have."""


def _codes_of(codings: Iterable[Element], names: ConceptMap) -> frozenset[str]:
    """Our codes for those of a concept."""
    found = [names.code_of(each.text("system"), each.text("code")) for each in codings]
    return frozenset(code for code in found if code is not None)


def is_ours(resource: Element, names: ConceptMap) -> bool:
    """Whether a request is an order of ours: its code, or one of its settings' codes, says so."""
    return any(each and _codes_of(each.items("coding"), names) for each in _concepts(resource))


def _concepts(resource: Element) -> Iterator[Element | None]:
    """What says with a code what a request is, and what each of its settings is."""
    if resource.resource_type == "DeviceRequest":
        yield resource.section("codeCodeableConcept")
        yield from (each.section("code") for each in resource.items("parameter"))
    elif resource.resource_type == "ServiceRequest":
        yield resource.section("code")
        for each in resource.items("orderDetail"):
            yield each
            yield from (inner.section("code") for inner in each.items("parameter"))


def settings_of(resource: Element, names: ConceptMap) -> Iterator[Reading]:
    """What a request of ours says of each setting, first to last."""
    yield from _named(resource)
    for each in resource.items("parameter"):
        yield from _parameter(each, names)
    for each in resource.items("orderDetail"):
        yield from _detail(each, names)


def _named(resource: Element) -> Iterator[Reading]:
    """The settings that have an element of their own."""
    group = resource.section("groupIdentifier") or resource.section("requisition")
    period, requester = resource.section("occurrencePeriod"), resource.section("requester")
    yield from _said("id", group and group.scalar("value"))
    yield from _status(resource)
    yield from _said("written", resource.scalar("authoredOn"))
    yield from _said("starts", resource.scalar("occurrenceDateTime"))
    yield from _said("starts", period and period.scalar("start"))
    yield from _said("prescriber", requester and requester.scalar("display"))
    if requester and requester.scalar("display") is None:
        yield whole_not_understood(requester, "names no person in words")
    for number, reason in enumerate(resource.items("reasonCode")):
        if number:
            yield whole_not_understood(reason, "is a second reason")
        else:
            yield from _reason(reason)
    for note in resource.items("note")[:1]:
        yield from _said("instructions", note.scalar("text"))


def _said(path: str, scalar: Scalar | None) -> Iterator[RequestedSetting]:
    if scalar is not None:
        yield RequestedSetting(path, plain_text(scalar, path))


def _reason(reason: Element) -> Iterator[Reading]:
    codings = reason.items("coding")
    text = reason.scalar("text") or next((c.scalar("display") for c in codings), None)
    if text is None:
        yield whole_not_understood(reason, "says no reason in words")
    yield from _said("indication", text)


def _status(resource: Element) -> Iterator[RequestedSetting]:
    written = resource.scalar("status")
    status = STATUSES.get(written.text) if written else None
    if written and status:
        yield RequestedSetting("status", written._replace(text=status))


def _parameter(element: Element, names: ConceptMap) -> Iterator[Reading]:
    code = element.section("code")
    if code is None:
        yield whole_not_understood(element, "has no code, and so names no setting")
        return
    for path in _paths(code, element, names, code.text("text")):
        if isinstance(path, str):
            is_amount = element.section("valueQuantity") is not None
            yield RequestedSetting(path, value_in(element, path), is_amount=is_amount)
        else:
            yield path


def _paths(
    code: Element, whole: Element, names: ConceptMap, name: str = ""
) -> Iterator[str | NotUnderstood | Fault]:
    """The setting that a code names, or why it names none; `name` is what it is called beside."""
    codings = code.items("coding")
    own = _codes_of(codings, names)
    shown = [name, *(each.text("display") for each in codings)]
    found = own.union(*(_named_in(text) for text in shown if text))
    if not own or ORDER in found:
        yield whole_not_understood(whole, "has a code that is no setting of an order")
    elif len(found) > 1:
        table = field_table()
        paths = [path for path in table.fields if path in found]
        said = " and ".join(in_sentence(table.display_name(path)) for path in paths)
        details = {"names": said}
        written = as_written(code.node)
        for path in paths:
            yield Fault(NAMES_TWO, path, written, code.place, details, (path,))
    else:
        yield from found


@functools.lru_cache(maxsize=256)
def _named_in(text: str) -> tuple[str, ...]:
    """The settings that a text names: it is the name of one, or has the longest names in it."""
    whole = codes_by_name().get(casefold_spaces(text))
    if whole or text in setting_codes():
        return (whole or text,)
    words = f" {words_of(text)} "
    names = [name for name in codes_by_words() if f" {name} " in words]
    return tuple(
        codes_by_words()[name]
        for name in names
        if not any(name != other and name in other for other in names)
    )


def _detail(element: Element, names: ConceptMap) -> Iterator[Reading]:
    """An order detail: of R5 with parameters, of R4 a concept with the value as its text."""
    inner = element.items("parameter")
    for each in inner:
        yield from _parameter(each, names)
    if inner:
        return
    text = element.scalar("text")
    for path in _paths(element, element, names):
        if not isinstance(path, str):
            yield path
        elif text is None:
            yield whole_not_understood(element, "has no value")
        else:
            yield RequestedSetting(path, plain_text(text, path))
