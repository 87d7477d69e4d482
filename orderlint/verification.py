"""Checks one order: joins reading, rulebook, assessment and behaviour. Reads no file."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.additive import Additive, additive_of
from orderlint.assessment import Assessment, Check, Judged, assess, assessment_of, judge
from orderlint.behaviour import Behaviour, behaviour_of
from orderlint.conditions import Conditions, kept, order_conditions
from orderlint.fields import CHECKED_AT
from orderlint.finding import Level, NotChecked, Unchecked
from orderlint.language.evaluate import evaluate
from orderlint.mention_check.faults import text_faults, texts_not_checked
from orderlint.order import Leaf, Order, State
from orderlint.order_reader import read_order
from orderlint.reading import Document, read
from orderlint.rulebook.load import load
from orderlint.rulebook.standing_orders import filled
from orderlint.utc_offset_check import offset_faults as off_zone
from orderlint.utc_offset_check import with_clock_change

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.fhir.bundle.reading import BundleOrder
    from orderlint.rulebook.rule import Rulebook

STRANGE = "fhir-element-not-understood"
"""The rule that cannot be checked where elements of a resource of FHIR are not understood."""
_ON_READING = {"reading", "schema", "units"}
"""The `found_by` of the rules that are found in reading an order."""


@dataclass(frozen=True, slots=True)
class Verified:
    """The result of checking one order.

    `order` has every leaf as read, and the policy's standing orders for those of which it says
    nothing; `paper` names these, empty if the policy has none. `policy` is the title of the policy
    in force, `weaker` are its values with which more orders pass than with the built-in ones.
    `not_checked` are the free texts not understood whole, or that say something else. `additive`
    is what runs in of a drug, where that can be reckoned. `is_draft` says that it comes of
    a draft.
    """

    file: str
    order: Order
    assessment: Assessment
    behaviour: Behaviour
    policy: str
    weaker: tuple[str, ...] = ()
    not_checked: tuple[NotChecked, ...] = ()
    additive: Additive | None = None
    paper: str = ""
    is_draft: bool = False


def verify(data: bytes, file: str, at: int, rulebook: Rulebook | None = None) -> Verified:
    """Check one order.

    `data` is the file's bytes, YAML or JSON; `file` its name for places; `at` the instant of
    checking in milliseconds since 1970 UTC. Raises Refused where the file is not a readable order.
    """
    return verify_order(read_order(read(data, file, "order")), at, rulebook or load("order"))


def verify_order(order: Order, at: int, rulebook: Rulebook) -> Verified:
    """Check an order that has been read, filled with the policy's standing orders."""
    order = filled(order, rulebook.standing_orders)
    leaves = _with_instants(order, at)
    check = _check(order, at, rulebook)
    return Verified(
        order.file,
        order,
        assess(check, order, leaves, at, rulebook),
        behaviour_of(leaves, rulebook.outflow),
        rulebook.policy,
        tuple(_weaker(rulebook, leaves)),
        texts_not_checked(order),
        additive_of(leaves, rulebook),
        rulebook.standing_orders.paper if rulebook.standing_orders else "",
    )


def verify_draft(document: Document, at: int, rulebook: Rulebook) -> Verified:
    """Check the order that a draft comes to; it is incomplete at best until all is confirmed.

    Raises Refused where the document is not as a draft is written.
    """
    from orderlint.sentences import draft as drafts  # noqa: PLC0415 - few orders come as a draft

    draft = drafts.read_draft(document)
    found = verify_order(drafts.order_of(draft, document), at, rulebook)
    texts = drafts.not_checked_of(draft, document.root.place)
    return replace(with_open(found, drafts.unchecked_of(draft), texts), is_draft=True)


def with_open(
    found: Verified, unchecked: Iterable[Unchecked], texts: Iterable[NotChecked]
) -> Verified:
    """A result of which more is open than its rules: what came in was not all understood."""
    held = found.assessment
    return replace(
        found,
        assessment=assessment_of(
            held.findings,
            (*held.unchecked, *unchecked),
            held.inactive,
            held.suppressed,
            held.rules,
        ),
        not_checked=(*found.not_checked, *texts),
    )


def verify_bundle(found: BundleOrder, at: int, rulebook: Rulebook) -> Verified:
    """Check an order that was read from resources of FHIR.

    Raises Refused where it is none, as where it was entered in error.
    """
    from orderlint.fhir.bundle.reading import order_of  # noqa: PLC0415 - few orders come in a Bundle

    return verify_order(order_of(found), at, rulebook)


def judge_order(order: Order, at: int, rulebook: Rulebook) -> Judged:
    """The verdict of `verify_order`, and the rules that are broken, without a word of them."""
    order = filled(order, rulebook.standing_orders)
    return judge(_check(order, at, rulebook), _with_instants(order, at), at, rulebook)


def _with_instants(order: Order, at: int) -> dict[str, Leaf]:
    """The leaves that conditions read: those of the order, and the time of checking."""
    return {**with_clock_change(order.leaves), CHECKED_AT: _checked_at(at)}


@functools.lru_cache(maxsize=1)
def _checked_at(at: int) -> Leaf:
    return Leaf(CHECKED_AT, State.KNOWN, at)


def _check(order: Order, at: int, rulebook: Rulebook) -> Check:
    conditions, rules = _asked(rulebook)
    return Check(
        conditions,
        rules,
        faults=(*order.faults, *off_zone(order), *text_faults(order)),
        policy_faults=rulebook.policy_faults(at),
        unchecked=_strange(order) if order.not_understood else (),
    )


def _strange(order: Order) -> tuple[Unchecked]:
    """What keeps an order incomplete of which elements are not understood."""
    count = len(order.not_understood)
    said = "An element is" if count == 1 else f"{count} elements are"
    return (Unchecked(STRANGE, Level.CLARIFY, (), f"{said} not understood"),)


@kept
def _asked(rulebook: Rulebook) -> tuple[Conditions, int]:
    """The conditions on one order, and how many rules are asked with those found in reading it."""
    conditions = order_conditions(rulebook)
    on_reading = [rule for rule in rulebook.rules.values() if rule.found_by in _ON_READING]
    return conditions, conditions.active + len(on_reading)


def _weaker(rulebook: Rulebook, leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """The policy's weaker values; of a table only those that may apply to this order."""
    for item in rulebook.weaker:
        if item.applies_if is None or evaluate(item.applies_if, leaves) is not False:
            yield item.fault.details["value"]
