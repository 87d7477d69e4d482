"""What a query asks: of which table, with which columns, which rules, and by which planted rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from orderlint import __version__
from orderlint.audit.policy_plan import is_counted
from orderlint.audit.sql.outcomes import RuleTrees, tests_of, trees_of
from orderlint.audit.sql.planted_rows import Planted, planted_rows
from orderlint.audit.sql.read_texts import OFFSETS, TextTable, text_table
from orderlint.fields import CHECKED_AT, field_table
from orderlint.order import CLOCK_PUT_BACK, Leaf
from orderlint.rulebook.rule import CodeRule, Rule, Rulebook

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.tables.table_map import MappedColumn


class QueryRules(NamedTuple):
    """The rules that a query asks, and what it needs for them.

    `faults` are the rules that are broken by a text that cannot be read, `uncounted` those that
    code finds in several settings of an order, or in the policy, which no query asks. `standing`
    are the lines of the policy's standing orders by path.
    """

    rules: tuple[RuleTrees, ...]
    faults: tuple[str, ...]
    uncounted: tuple[str, ...]
    planted: Planted
    table: TextTable
    standing: Mapping[str, Leaf]

    @property
    def counted(self) -> int:
        """How many rules the query counts: those on conditions, then those on faults."""
        return len(self.rules) + len(self.faults)


def asked_of(rulebook: Rulebook) -> QueryRules:
    """What is asked under a rulebook, which was read with its examples."""
    rules = tuple(trees_of(rule) for rule in rulebook.order_rules)
    table = text_table(tests_of(rules), __version__)
    found = [
        rule
        for rule in rulebook.rules.values()
        if isinstance(rule, CodeRule) and is_counted(rule, rulebook)
    ]
    faults = tuple(rule.id for rule in found if _is_of_one_leaf(rule))
    standing = rulebook.standing_orders.leaves if rulebook.standing_orders else {}
    return QueryRules(
        rules,
        faults,
        tuple(rule.id for rule in found if not _is_of_one_leaf(rule)),
        planted_rows(rulebook, faults),
        table,
        standing,
    )


def _is_of_one_leaf(rule: Rule) -> bool:
    """Whether a rule is broken by one text, in being read."""
    return rule.found_by in {"schema", "units"} or rule.id == "zone-not-known"


@dataclass(frozen=True, slots=True)
class Query:
    """A query: what is asked, of the table `orders` with these columns, joined with `texts`.

    `as_of` is the column with the instant as of which a row is judged, None for when the order was
    written. `by` are columns by which rows are grouped, each for itself; a count below `min_cell`
    in a group is hidden.
    """

    asked: QueryRules
    mapping: tuple[MappedColumn, ...]
    orders: str = "orders"
    texts: str = "read_texts"
    as_of: str | None = None
    by: tuple[str, ...] = ()
    min_cell: int = 5

    @property
    def columns(self) -> Mapping[str, MappedColumn]:
        """The columns of the table by path."""
        return {each.path: each for each in self.mapping}

    @property
    def leaves(self) -> tuple[str, ...]:
        """The paths of the leaves that are looked up: of a condition, a column, a planted row."""
        planted = (path for row in self.asked.planted.rows for path in row.texts)
        clock = (*OFFSETS, "zone") if self.asks_for_clock_change else ()
        needed = {*self.asked.table.tests, *self.columns, *planted, *clock}
        return tuple(path for path in (*field_table().fields, CHECKED_AT) if path in needed)

    @property
    def cells(self) -> tuple[str, ...]:
        """The paths at which a text can stand: leaves, and sections that have a column."""
        return tuple(dict.fromkeys([*self.leaves, *self.columns]))

    def around(self, path: str) -> tuple[str, ...]:
        """The sections around a leaf that can be written as one text instead, nearest first."""
        sections = field_table().sections
        found = (at for at in self.cells if path.startswith(f"{at}.") and at in sections)
        return tuple(sorted(found, key=len, reverse=True))

    def has_unit(self, path: str) -> bool:
        """Whether the unit of a leaf stands outside its cell."""
        column = self.columns.get(path)
        return column is not None and bool(column.unit_column or column.unit)

    @property
    def asks_for_clock_change(self) -> bool:
        """Whether a condition asks if the clock is put back between two times."""
        tests = self.asked.table.tests.get("review_by")
        return tests is not None and CLOCK_PUT_BACK in tests.flags
