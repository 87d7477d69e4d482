"""No small count of a month and group can be computed: a solver looks for other orders that fit.

The solver knows nothing of how counts are hidden; what is shown is its only facts.
"""

from __future__ import annotations

from itertools import chain

import z3
from drawing import most
from hypothesis import example, given
from hypothesis import strategies as st
from report.audit.made import ABOVE, result

from orderlint.audit.model import GroupCounts, GroupRule, Refusals, RuleCounts
from orderlint.finding import Level
from orderlint.report.audit.counts import by_part, dated
from orderlint.report.audit.month_tables import month_table
from orderlint.report.audit.rule_blocks import by_month_of_values
from orderlint.report.audit.small_cells import NOT_SHOWN, shown_line

MIN, RULE, ORDERS = 3, "drain-margin-small", 500
TABLES = st.integers(2, 5).flatmap(
    lambda wide: st.lists(st.lists(st.integers(0, 7), min_size=wide, max_size=wide), max_size=4)
)
"""Rows of counts: one a month, with a count for each ward."""


def audit_of(cells):
    """An audit that has counted so, in wards and months of many orders."""
    wards, months = range(len(cells[0])), range(len(cells))
    total = sum(map(sum, cells))
    judged = ORDERS * len(wards) * len(months)

    def group(count, orders, by_month):
        rules = {RULE: GroupRule(count, count, count)}
        return GroupCounts(orders, count, 0, rules, {RULE: by_month} if by_month else {})

    by_ward = {
        f"ward {n}": group(
            sum(line[n] for line in cells),
            ORDERS * len(months),
            {f"2025-{m:02}": line[n] for m, line in enumerate(cells, 1) if line[n]},
        )
        for n in wards
    }
    return result(
        rows=judged,
        refused=Refusals(),
        stopped=total,
        rules={RULE: RuleCounts(Level.CLARIFY, "band", total, judged - total, 0, 0, total, total)},
        groups={"ward": by_ward},
        months={
            f"2025-{m:02}": group(sum(line), ORDERS * len(wards), {})
            for m, line in enumerate(cells, 1)
        },
        pairs={},
        min_cell=MIN,
    )


def is_as_shown(count, text, least=0):
    """What a reader knows of a count by what is shown of it; `least` is what "not shown" tells."""
    if text == NOT_SHOWN:
        return count >= least
    return z3.And(count >= 0, count < MIN) if text == f"under {MIN}" else count == int(text)


def lines_of(parts):
    """The counts of wards or months as the page shows them, and as the JSON does."""
    counted = {name: part.rules[RULE].reported for name, part in parts.items()}
    page = {part.name: part.counted.text for part in by_part(parts, MIN, RULE)}
    return page, {name: shown.text for name, shown in shown_line(counted, MIN).items()}


@given(TABLES.filter(lambda cells: cells and sum(map(sum, cells)) >= MIN))
@most(25)
@example([[9, 1], [1, 9], [4, 4]])
@example([[9, 9, 9, 0, 1], [0, 0, 9, 0, 1]])
@example([[0, 5], [2, 0]])
@example([[0, 2], [1, 1], [2, 2]])
def test_what_is_shown_fits_another_value_of_each_small_count(cells):
    found = audit_of(cells)
    table = month_table(found, "ward", RULE)
    if table is None:
        return
    wards = [*found.groups["ward"]]
    cell = {(ward, month): z3.Int(f"{ward} {month}") for ward in wards for month in found.months}
    solver = z3.Solver()
    solver.add([each >= 0 for each in cell.values()])
    solver.add(z3.Sum([*cell.values()]) == sum(map(sum, cells)))
    of_month = {m: z3.Sum([cell[ward, m] for ward in wards]) for m in found.months}
    of_ward = {ward: z3.Sum([cell[ward, m] for m in found.months]) for ward in wards}
    for parts, sums in ((dated(found), of_month), (found.groups["ward"], of_ward)):
        for line in lines_of(parts):
            solver.add([is_as_shown(sums[name], text) for name, text in line.items()])
    others = [ward for ward in wards if ward not in table.values]
    shown = []
    for month, line in table.months.items():
        sums = [cell[ward, month] for ward in table.values]
        sums += [z3.Sum([cell[ward, month] for ward in others])] if table.has_others else []
        shown += zip(sums, line, strict=True)
    before = {name: other_than(solver, each, true) for name, each, true in secrets(found, of_month)}
    solver.add([is_as_shown(each, one.text, MIN) for each, one in shown])
    assert solver.check() == z3.sat
    for name, each, true in secrets(found, of_month):
        assert not before[name] or other_than(solver, each, true), (name, cells)
    for (ward, month), each in cell.items():
        count = found.groups["ward"][ward].months.get(RULE, {}).get(month, 0)
        if 0 < count < MIN:
            assert other_than(solver, each, count), (ward, month, cells)


def test_the_first_wards_are_shown_by_month_and_the_others_together():
    table = month_table(result(), "ward", ABOVE)
    assert (table.values, table.has_others) == (("3 West", "ICU <b>2</b>", "stroke unit"), True)
    shown = {month: [each.text for each in line] for month, line in table.months.items()}
    assert shown["2025-12"] == ["146", "0", "0", "0"]
    assert "under 5" in chain(*shown.values())
    page = str([*by_month_of_values(result(), ABOVE)])
    assert all(text in page for text in ("by month and ward", "2025-12", "“3 West”", "others"))


def test_without_months_there_is_no_such_table():
    assert month_table(result(months={}), "ward", ABOVE) is None


def secrets(found, of_month):
    """The month's counts, each of which the table gives away to nobody who did not know it."""
    for month, part in found.months.items():
        yield month, of_month[month], part.rules[RULE].reported


def other_than(solver, count, value):
    """Whether a count may be another, for all that is known."""
    return solver.check(count != value) == z3.sat
