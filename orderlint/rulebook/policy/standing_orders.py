"""Reads the standing orders of a site policy, and leaves out the rules that would miss them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.defaults import with_defaults
from orderlint.leaf_reader import read_leaf
from orderlint.rulebook.rule import MISSING_FAMILY, OrderRule, Rule, Skipped
from orderlint.rulebook.standing_orders import FILLABLE, StandingOrders
from orderlint.rulebook.yaml_fields import known_keys, near, pairs, refuse, scalar, section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Leaf
    from orderlint.reading import Document
    from orderlint.reading.node import Scalar, Section

KEY = "standing_orders"


def standing_orders(document: Document) -> StandingOrders | None:
    """The policy's standing orders; None if it has none.

    Raises Refused at a setting that they may not have, and at a value that an order's check of
    one leaf would find anything in.
    """
    node = document.root.get(KEY)
    if node is None:
        return None
    found = section(node, f"{KEY}:", document.root)
    known_keys(found, ("paper", "lines"), "standing orders")
    leaves = {leaf.path: leaf for leaf in _lines(found)}
    if not leaves:
        refuse(found, "lines: is missing; standing orders have one line or more")
    return StandingOrders(scalar(found, "paper").text.strip(), leaves)


def _lines(found: Section) -> Iterator[Leaf]:
    for path, text in pairs(found, "lines"):
        if path.text not in FILLABLE:
            only = "standing orders are of levelling, zeroing, alarms and transport"
            refuse(path, f"{path.text} is none of theirs: {only}{near(path.text, FILLABLE)}")
        yield _line(path.text, text)


def _line(path: str, text: Scalar) -> Leaf:
    judged = read_leaf(field_table().fields[path], text)
    if judged.fault or judged.leaf.flags:
        why = judged.fault.rule if judged.fault else ", ".join(sorted(judged.leaf.flags))
        refuse(text, f"{path}: {text.text!r} cannot be read, or can be misread: {why}")
    if (path, judged.leaf.value) == ("transport.irrigation", "on"):
        refuse(text, f"{path}: no standing order turns irrigation on")
    return replace(judged.leaf, from_policy=True)


def with_standing_orders(
    rules: Mapping[str, Rule], standing: StandingOrders | None
) -> Mapping[str, Rule]:
    """The rules as they are asked under standing orders; none misses one of their lines."""
    if standing is None:
        return rules
    return {name: _asked(rule, standing) for name, rule in rules.items()}


def _asked(rule: Rule, standing: StandingOrders) -> Rule:
    """The rule asked, of an order as signed, what it asks of that order filled."""
    if not isinstance(rule, OrderRule):
        return rule
    if rule.family == MISSING_FAMILY and any(each.it in standing.leaves for each in rule.instances):
        reason = f"it stands in the policy's standing orders, {standing.paper}"
        return replace(rule, instances=(), skipped=(Skipped(reason),))
    # An order set yields orders as signed: so a proof on them and a check of one agree.
    instances = (
        each._replace(condition=with_defaults(each.condition, standing.leaves))
        for each in rule.instances
    )
    return replace(rule, instances=tuple(instances))
