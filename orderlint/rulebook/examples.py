"""Reads the examples in a rule's record: orders, each with a policy and an instant of checking.

It does not evaluate them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Place
from orderlint.order import SIGNING_FIELDS, Leaf, Order, State, with_earlier
from orderlint.order_reader import read_order
from orderlint.reading import Document
from orderlint.reading.node import KeyValue, Listing, Node, Scalar, Section, nest_paths
from orderlint.rulebook.build import build_with_values
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import CodeRule, ConditionRule, Rule, Rulebook
from orderlint.rulebook.yaml_fields import near, refuse
from orderlint.units import parse_instant
from orderlint.utc_offset_check import with_clock_change

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping


OUTCOMES = ("breaks", "passes", "unknown")
"""The outcomes of a rule on an example."""
NOW = 1_772_480_000_000
"""The instant of checking of an example without `at:`, in milliseconds since 1970 UTC."""
SETTINGS_SEEN = "settings-seen"
SAMPLE = "sample"
"""Stands in an example for the schema's example, where the value of a leaf does not matter."""
_ADDITIVE = "irrigation.additive"
_TOP = Place("example", 1, 1)


@dataclass(frozen=True, slots=True)
class RuleExample:
    """An example of a rule: an order, and the outcome of the rule on it.

    `written` are the order's texts by path, as they stand in the file. `values` replace values of
    the built-in policy; `policy` is a whole site policy. `seen` are settings seen and `before` is
    an earlier order; `written_seen` and `written_before` are their texts by path. If there is an
    `order_set`, the order is empty.
    """

    rule: str
    outcome: str
    number: int
    order: Order
    place: Place
    written: Mapping[str, str]
    values: Mapping[str, Node] = field(default_factory=dict)
    policy: Document | None = None
    at: int = NOW
    order_set: Document | None = None
    seen: Document | None = None
    written_seen: Mapping[str, str] = field(default_factory=dict)
    before: Order | None = None
    written_before: Mapping[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return f"{self.rule}-{self.outcome}-{self.number}"

    def leaves(self) -> Mapping[str, Leaf]:
        """The leaves of the order and of any earlier one, and the time of checking."""
        at = {CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, self.at)}
        own = with_clock_change(self.order.leaves)
        return {**(with_earlier(own, self.before.leaves) if self.before else own), **at}

    def rulebook(self) -> Rulebook:
        """The built-in rulebook on the policy that the example names."""
        if self.policy is not None:
            return load("order", self.policy)
        return build_with_values(self.values) if self.values else load("all")


def examples_of(rule: Rule) -> Iterator[RuleExample]:
    """Every example of a rule. Raises Refused, with line and column, at a mistake in one."""
    for entry in rule.examples.entries if rule.examples else ():
        if entry.key.text not in OUTCOMES:
            refuse(entry.key, f"an example is one of: {', '.join(OUTCOMES)}")
        if not isinstance(entry.value, Listing):
            refuse(entry.value, f"{entry.key.text}: is a list of examples")
        for number, item in enumerate(entry.value.items):
            if not isinstance(item, Section):
                refuse(item, "an example is settings with values")
            yield _example(rule, entry.key.text, number, item)


def _example(rule: Rule, outcome: str, number: int, item: Section) -> RuleExample:
    # Of a rule that a policy silences there are no instances.
    over = rule.over if isinstance(rule, ConditionRule) else ()
    it = over[0] if over else None
    leaves: dict[str, Node] = {}
    for entry in item.entries:
        if entry.key.text not in {"at", "before", "site", "policy", "seen", "set"}:
            leaves.update(_settings(entry, it, any_key=isinstance(rule, CodeRule)))
    of_set = rule.found_by in {"set", "proof"}
    order = _order("example", {} if of_set else leaves)
    written = _texts(leaves.items())
    site = item.get("site")
    replaced = {e.key.text: e.value for e in site.entries} if isinstance(site, Section) else {}
    policy = _policy(item.get("policy"))
    order_set = _order_set(item, leaves) if of_set else None
    judged = (written, replaced, policy, _instant(item), order_set, *_seen(item.get("seen")))
    before = _before(item.get("before"), it)
    return RuleExample(rule.id, outcome, number, order, item.place, *judged, *before)


def _order(file: str, leaves: Mapping[str, Node]) -> Order:
    return read_order(Document(file, "order", nest_paths({**_head("order"), **leaves}, _TOP)))


def _texts(named: Iterable[tuple[str, Node]]) -> Mapping[str, str]:
    """Texts by path; '' for what is none."""
    return {path: node.text if isinstance(node, Scalar) else "" for path, node in named}


def _before(parts: Node | None, it: str | None) -> tuple[Order | None, Mapping[str, str]]:
    """The earlier of two orders, if there is one, and its texts by path."""
    if not isinstance(parts, Section):
        return None, {}
    leaves: dict[str, Node] = {}
    for entry in parts.entries:
        leaves.update(_settings(entry, it, any_key=False))
    return _order("before", leaves), _texts(leaves.items())


def _seen(parts: Node | None) -> tuple[Document | None, Mapping[str, str]]:
    """The document of settings seen, if there are any, and its texts by path."""
    if not isinstance(parts, Section):
        return None, {}
    leaves = {entry.key.text: entry.value for entry in parts.entries}
    root = nest_paths({**_head(SETTINGS_SEEN), **leaves}, _TOP)
    return Document("seen", SETTINGS_SEEN, root), _texts(_flat(leaves))


def _flat(leaves: Mapping[str, Node], above: str = "") -> Iterator[tuple[str, Node]]:
    for key, node in leaves.items():
        if isinstance(node, Section):
            yield from _flat({e.key.text: e.value for e in node.entries}, f"{above}{key}.")
        else:
            yield f"{above}{key}", node


def _instant(item: Section) -> int:
    at = item.get("at")
    if at is None:
        return NOW
    instant = parse_instant(at.text) if isinstance(at, Scalar) else None
    if instant is None:
        refuse(at, "at: is a date and time with its offset")
    return instant


def _policy(parts: Node | None) -> Document | None:
    """A site policy with these parts and the head that every policy has."""
    if not isinstance(parts, Section):
        return None
    head = {**_head("site-policy"), "title": _scalar("a policy in an example")}
    entries = tuple(KeyValue(_scalar(key), node) for key, node in head.items())
    root = Section((*entries, *parts.entries), parts.place)
    return Document(parts.place.file, "site-policy", root)


def _order_set(item: Section, leaves: Mapping[str, Node]) -> Document:
    """An order set with these entries, and what its head must have but the example leaves out.

    With `set: {order: sample}` every other setting has the schema's example.
    """
    given = item.get("set")
    changes = given.entries if isinstance(given, Section) else ()
    head: dict[str, Node] = {**_head("order-set"), **_SET_HEAD}
    head.update({entry.key.text: entry.value for entry in changes})
    if _is_sample(head.pop("order", _scalar(""))):
        leaves = {**_whole_order(), **leaves}
    head["order"] = nest_paths(leaves, item.place)
    root = Section(tuple(KeyValue(_scalar(key), node) for key, node in head.items()), item.place)
    return Document(item.place.file, "order-set", root)


def _whole_order() -> Mapping[str, Node]:
    """The schema's example of every setting, with no additive, and no facts of signing."""
    without = {*SIGNING_FIELDS, *_head("order"), *field_table().sections[_ADDITIVE]} - {_ADDITIVE}
    fields = field_table().fields.values()
    return {field.path: _scalar(field.example) for field in fields if field.path not in without}


def _settings(entry: KeyValue, it: str | None, any_key: bool) -> Mapping[str, Node]:
    """What an entry of an example writes, by path; `any_key` allows a key that no order has."""
    key, value, table = entry.key.text, entry.value, field_table()
    path = it if key == "it" and it else key
    held = [*table.fields, *table.sections]
    if path not in held and (_is_sample(value) or not any_key):
        refuse(entry.key, f"{path} is nothing that an order holds{near(path, held)}")
    if not _is_sample(value):
        return {path: value}
    paths = [path] if path in table.fields else table.sections[path]
    return {each: _scalar(table.fields[each].example, value.place) for each in paths}


def _is_sample(value: Node) -> bool:
    return isinstance(value, Scalar) and value.text == SAMPLE


def _head(kind: str) -> Mapping[str, Scalar]:
    return {"document": _scalar(kind), "format": Scalar("1", "1", "number", _TOP)}


def _scalar(text: str, place: Place = _TOP) -> Scalar:
    return Scalar(text, text, "text", place)


_SET_HEAD: Mapping[str, Node] = {
    "title": _scalar("a set in an example"),
    "population": _scalar("adult"),
    "version": _scalar("1"),
    "owner": _scalar("a committee"),
    "approved": _scalar("2026-02-01"),
    "review_due": _scalar("2027-02-01"),
}
