"""What an audit must say of each row: what `verify` says of the row's own document.

The document is written as JSON, letter by letter, and goes through `orderlint.verify`. What the
report of verify does not show (rules that are kept, not asked, covered) is what `evaluate`, which
defines what a condition means, says of the same leaves; both must agree wherever both speak.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

import orderlint
from orderlint.assessment import without_covered, without_suppressed
from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Level, Refused, verdict_by
from orderlint.language.evaluate import evaluate, missing
from orderlint.mention_check.faults import text_faults
from orderlint.order import Leaf, State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import context_of, subjects_of
from orderlint.rulebook.standing_orders import filled
from orderlint.units import parse_instant
from orderlint.utc_offset_check import offset_faults, with_clock_change

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.bases import Row

    from orderlint.api.policies import SitePolicy
    from orderlint.finding import Fault
    from orderlint.order import Order
    from orderlint.rulebook.rule import Instance, OrderRule, Rule, Rulebook

BROKEN, UNCHECKED, KEPT, NOT_ASKED = OUTCOMES = ("broken", "unchecked", "kept", "not_asked")
"""Of several instances of a rule, the first of these is that of the rule."""
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
WRITTEN = "written"


@dataclass(frozen=True)
class Judged:
    """What is to be said of one row.

    `refused` is why it is no order, else "". `outcomes` has every rule that verify can report, and
    `lacking` what each that is unchecked lacks. `reported` are the rules found, with their levels.
    """

    refused: str = ""
    outcomes: Mapping[str, str] = field(default_factory=dict)
    lacking: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    reported: Mapping[str, Level] = field(default_factory=dict)
    verdict: str = ""
    unreadable: tuple[tuple[str, str], ...] = ()
    written: int | None = None

    @property
    def stopping(self) -> tuple[str, ...]:
        """The rules reported above a note."""
        return tuple(rule for rule, level in self.reported.items() if level is not Level.NOTE)


def document(row: Row) -> bytes:
    """The JSON document of a row. A key stands twice where a text and a section have one path.

    Each cell is a text, but for a whole number in a setting that no text can stand in.
    """
    cells = {path: _value(path, text) for path, text in row.items() if text and _is_setting(path)}
    return _section(cells, ['"document": "order"', '"format": 1']).encode()


def _is_setting(column: str) -> bool:
    table = field_table()
    return column in table.fields or column in table.section_names


def _value(path: str, text: str) -> str:
    field = field_table().fields.get(path)
    is_count = field is not None and field.kind == "count"
    return text if is_count and WHOLE.fullmatch(text) else json.dumps(text, ensure_ascii=False)


WHOLE = re.compile(r"0|[1-9][0-9]*", re.ASCII)
"""A whole number as JSON writes it."""


def _section(values: Mapping[str, str], members: list[str]) -> str:
    below: dict[str, dict[str, str]] = {}
    for path, value in values.items():
        key, _, rest = path.partition(".")
        if rest:
            below.setdefault(key, {})[rest] = value
        else:
            members.append(f"{json.dumps(key)}: {value}")
    members += [f"{json.dumps(key)}: {_section(inner, [])}" for key, inner in below.items()]
    return "{" + ", ".join(members) + "}"


def judged(row: Row, as_of: str = WRITTEN, policy: SitePolicy | None = None) -> Judged:
    """The truth of one row, as of its signing or of the instant in another column."""
    data = document(row)
    try:
        order = read_order(read(data, "row.json", "order"))
    except Refused as refused:
        return Judged(refused=refused.message)
    at = _instant(row, order, as_of)
    found = _Found(order, at, policy.rulebook if policy else load("order"))
    if at is not None:
        _compare_with_verify(found, data, at, policy)
    return Judged(
        outcomes=found.outcomes,
        lacking=found.lacking,
        reported=found.reported(),
        verdict=found.verdict(),
        unreadable=tuple(_unreadable(order, row)),
        written=_known_instant(order.leaves[WRITTEN]),
    )


def _instant(row: Row, order: Order, as_of: str) -> int | None:
    """The instant of checking; None where the row does not say it."""
    if as_of == WRITTEN:
        return _known_instant(order.leaves[WRITTEN])
    return parse_instant((row.get(as_of) or "").strip())


def _known_instant(leaf: Leaf) -> int | None:
    return leaf.value if isinstance(leaf.value, int) else None


def _unreadable(order: Order, row: Row) -> Iterator[tuple[str, str]]:
    """The texts that cannot be read: as a setting, or where a section of settings is due."""
    for path in (*order.leaves, *SECTIONS):
        text = row.get(path) or ""
        if text.strip() and (path in SECTIONS or order.leaves[path].state is State.UNREADABLE):
            yield path, text


SECTIONS = tuple(path for path in field_table().section_names if path not in field_table().fields)
"""The sections in whose place no text can stand."""


class Break(NamedTuple):
    """A rule that is broken, the settings it is broken at, and those that it is about."""

    rule: Rule
    paths: tuple[str, ...]
    subjects: frozenset[str]


def break_of(fault: Fault, rulebook: Rulebook) -> Break:
    """The break that code has found."""
    return Break(rulebook.rules[fault.rule], (fault.path,), frozenset({fault.path, *fault.spoils}))


class _Found:
    """The outcome of every rule on an order, by the definition of conditions and by faults."""

    def __init__(self, order: Order, at: int | None, rulebook: Rulebook) -> None:
        order = filled(order, rulebook.standing_orders)
        known = Leaf(CHECKED_AT, State.KNOWN, at) if at is not None else Leaf(CHECKED_AT)
        self.leaves = {**with_clock_change(order.leaves), CHECKED_AT: known}
        self.at, self.rulebook = at, rulebook
        self.broken: list[Break] = []
        self.outcomes: dict[str, str] = {}
        self.lacking: dict[str, tuple[str, ...]] = {}
        self.open: dict[str, Level] = {}
        for rule in self.rulebook.order_rules:
            self._ask(rule)
        faults = (*order.faults, *offset_faults(order), *text_faults(order))
        self.broken += [break_of(fault, rulebook) for fault in faults]
        of_policy = rulebook.faults if at is None else rulebook.policy_faults(at)
        self.of_policy = [break_of(fault, rulebook) for fault in of_policy]
        self._take({fault.rule for fault in (*faults, *of_policy)})

    def _ask(self, rule: OrderRule) -> None:
        outcomes, lacking = {NOT_ASKED}, dict[str, None]()
        for instance in rule.instances:
            outcome = outcome_of(rule, instance, self.leaves)
            outcomes.add(outcome)
            if outcome == BROKEN:
                subjects = subjects_of(instance.paths, instance.condition)
                self.broken.append(Break(rule, instance.paths, subjects))
            elif outcome == UNCHECKED:
                lacking |= dict.fromkeys(missing(instance.condition, self.leaves))
                self.open[rule.id] = rule.level
        self.outcomes[rule.id] = min(outcomes, key=OUTCOMES.index)
        if self.outcomes[rule.id] == UNCHECKED:
            self.lacking[rule.id] = tuple(lacking)

    def _take(self, faulty: set[str]) -> None:
        """The outcomes of rules found by code; of those on a policy, of which it can break."""
        on_policy = {fault.rule for fault in self.rulebook.faults}
        on_policy |= {"suppression-expired"} if self.rulebook.suppressions else set()
        for rule in self.rulebook.rules.values():
            if rule.found_by in {"reading", "schema", "units"} or rule.id in on_policy:
                self.outcomes[rule.id] = BROKEN if rule.id in faulty else KEPT

    def reported(self) -> dict[str, Level]:
        """The rules that are shown, after suppressions and covers."""
        shown = without_covered([*self._split()[0], *self.of_policy])
        return {each.rule.id: each.rule.level for each in shown}

    def _split(self) -> tuple[list[Break], list[Break]]:
        """The breaks that the policy does not suppress, and those that it does.

        It suppresses until an instant, so that it suppresses nothing at one that is not known.
        """
        if self.at is None:
            return self.broken, []
        left, silenced = without_suppressed(self.broken, self.rulebook, self.at)
        return left, [each for items in silenced.values() for each in items]

    def verdict(self) -> str:
        hidden = [each.rule.level for each in self._split()[1]]
        return verdict_by(self.reported().values(), hidden, is_open=bool(self.open)).value


def outcome_of(rule: OrderRule, instance: Instance, leaves: Mapping[str, Leaf]) -> str:
    """The outcome of one condition of a rule."""
    sound = evaluate(instance.condition, leaves)
    if sound is None:
        return UNCHECKED
    if sound is False:
        return BROKEN
    context = context_of(rule, instance)
    asked = context is None or evaluate(context, leaves) is not False
    return KEPT if asked else NOT_ASKED


def _compare_with_verify(found: _Found, data: bytes, at: int, policy: SitePolicy | None) -> None:
    """Where verify speaks, it must say the same: otherwise this truth is none."""
    moment = EPOCH + timedelta(milliseconds=at)
    result = orderlint.verify(data, name="row.json", at=moment, policy=policy)
    assert {each.rule: each.level for each in result.findings} == found.reported()
    assert {each.rule for each in result.unchecked} == set(found.open)
    assert result.verdict.value == found.verdict()
