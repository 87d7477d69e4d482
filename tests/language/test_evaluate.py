"""The meaning: Kleene's strong three-valued logic (Kleene 1952, from memory), case by case."""

from __future__ import annotations

import itertools

import pytest
import z3
from walkers import by_evaluate, by_solve, by_sql

from orderlint.fields import field_table
from orderlint.language.evaluate import missing
from orderlint.language.solve import code, given_of, known_of, value_of, well_formed
from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Not,
    Or,
    Same,
    Subject,
    Term,
    Tree,
    Written,
)
from orderlint.order import Leaf, State

KNOWN, ABSENT, UNREADABLE = State.KNOWN, State.ABSENT, State.UNREADABLE
LEAVES = {
    "therapy": Leaf("therapy", KNOWN, "irrigation", None, "irrigation"),
    "display_unit": Leaf("display_unit", KNOWN, "mmHg", None, "mmHg"),
    "drainage.scale": Leaf("drainage.scale"),
    "pause.lower": Leaf("pause.lower", KNOWN, 6, "mmHg", "6", frozenset({"trailing zero"})),
    "pause.upper": Leaf("pause.upper", UNREADABLE, None, None, "22", frozenset({"unit period"})),
    "treat_above": Leaf("treat_above"),
}
TRUE, FALSE = Given(("therapy",)), Given(("treat_above",))
UNKNOWN = Multiple("treat_above", 2)
VALUES = {True: TRUE, False: FALSE, None: UNKNOWN}


def meant(tree: Tree) -> bool | None:
    """What evaluate makes of the tree, when the other two walkers say the same."""
    found = by_evaluate(tree, LEAVES)
    assert by_solve([tree], LEAVES) == [found]
    assert by_sql([tree], [LEAVES]) == [[found]]
    return found


@pytest.mark.parametrize(("a", "b"), list(itertools.product(VALUES, repeat=2)))
def test_and_or_not_are_strong_three_valued_logic(a, b):
    # Kleene: and is the least, or the greatest, in the order false < unknown < true.
    order = {False: 0, None: 1, True: 2}
    back = {rank: value for value, rank in order.items()}
    assert meant(And((VALUES[a], VALUES[b]))) is back[min(order[a], order[b])]
    assert meant(Or((VALUES[a], VALUES[b]))) is back[max(order[a], order[b])]
    assert meant(Not(VALUES[a])) is back[2 - order[a]]


def one(path: str, factor: int = 1) -> tuple[Term, ...]:
    return (Term(factor, (path,)),)


ATOMS: dict[str, tuple[Tree, bool | None]] = {
    "given, known": (Given(("pause.lower",)), True),
    "given, unreadable": (Given(("pause.upper",)), True),
    "given, absent": (Given(("treat_above",)), False),
    "given, any of a section": (Given(("treat_above", "pause.upper")), True),
    "written": (Written("pause.lower", "trailing zero"), True),
    "written, unreadable": (Written("pause.upper", "unit period"), True),
    "not written, unreadable": (Written("pause.upper", "trailing zero"), False),
    "written, absent": (Written("treat_above", "trailing zero"), None),
    "less": (Compare(one("pause.lower"), "<", 7), True),
    "not less": (Compare(one("pause.lower"), "<", 6), False),
    "at most": (Compare(one("pause.lower"), "<=", 6), True),
    "not at most": (Compare(one("pause.lower", 2), "<=", 11), False),
    "equal": (Compare(one("pause.lower", -1), "==", -6), True),
    "not equal": (Compare(one("pause.lower"), "==", 5), False),
    "no terms": (Compare((), "<", 1), True),
    "a product": (Compare((Term(1, ("pause.lower", "pause.lower")),), "==", 36), True),
    "unreadable": (Compare(one("pause.upper"), "<", 7), None),
    "one of two unreadable": (
        Compare((*one("pause.lower"), *one("pause.upper")), "<", 7),
        None,
    ),
    "multiple": (Multiple("pause.lower", 3), True),
    "not multiple": (Multiple("pause.lower", 4), False),
    "multiple, absent": (Multiple("treat_above", 4), None),
    "member": (Member(Subject("therapy"), ("drainage", "irrigation")), True),
    "not member": (Member(Subject("therapy"), ("drainage",)), False),
    "member, absent": (Member(Subject("drainage.scale"), ("mmHg",)), None),
    "unit member": (Member(Subject("pause.lower", is_unit=True), ("mmHg",)), True),
    "unit, unreadable": (Member(Subject("pause.upper", is_unit=True), ("mmHg",)), None),
    "same": (Same(Subject("pause.lower", is_unit=True), Subject("display_unit")), True),
    "not same": (Same(Subject("therapy"), Subject("display_unit")), False),
    "same, one absent": (Same(Subject("drainage.scale"), Subject("display_unit")), None),
}


@pytest.mark.parametrize("name", ATOMS)
def test_an_atom_means_the_same_to_all_three_walkers(name):
    tree, value = ATOMS[name]
    assert meant(tree) is value


def test_what_is_missing_is_what_would_decide():
    unreadable = Compare(one("pause.upper"), "<", 7)
    absent = Member(Subject("drainage.scale"), ("mmHg",))
    assert missing(And((TRUE, unreadable, Not(absent))), LEAVES) == (
        "pause.upper",
        "drainage.scale",
    )
    assert missing(Or((FALSE, unreadable, unreadable)), LEAVES) == ("pause.upper",)
    assert missing(And((FALSE, unreadable)), LEAVES) == ()
    assert missing(Written("treat_above", "unit period"), LEAVES) == ("treat_above",)


def test_what_holds_of_every_order_is_said_of_each_kind_of_field():
    fields = field_table().fields
    said = {
        path: list(well_formed(fields[path])) for path in ("stop_when", "therapy", "treat_above")
    }
    assert {path: len(facts) for path, facts in said.items()} == {
        "stop_when": 1,
        "therapy": 2,
        "treat_above": 3,
    }
    solver = z3.Solver()
    solver.add(*said["therapy"], *said["treat_above"])
    assert solver.check() == z3.sat
    assert solver.check(value_of("treat_above") > fields["treat_above"].highest) == z3.unsat
    assert solver.check(value_of("therapy") == code("no such therapy")) == z3.unsat
    assert solver.check(known_of("therapy"), z3.Not(given_of("therapy"))) == z3.unsat
