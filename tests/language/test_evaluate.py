"""The meaning: Kleene's strong three-valued logic (Kleene 1952, from memory), case by case."""

from __future__ import annotations

import itertools
from typing import get_args

import pytest
import z3
from each_case import of_each
from walkers import by_evaluate, by_polars, by_python, by_solve, by_sql

from orderlint.fields import field_table
from orderlint.language.evaluate import _MEANINGS, evaluate, missing
from orderlint.language.to_sql import columns, digest_of_list, sql
from orderlint.language.to_z3 import (
    choice_code,
    given_of,
    known_of,
    solve,
    unit_of,
    value_of,
    well_formed,
)
from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    OneKind,
    Or,
    Same,
    Subject,
    Term,
    Tree,
    Written,
    paths_of,
)
from orderlint.order import Leaf, State

KNOWN, ABSENT, UNREADABLE = State.KNOWN, State.ABSENT, State.UNREADABLE
LEAVES = {
    "therapy": Leaf("therapy", KNOWN, "irrigation", None, "irrigation"),
    "display_unit": Leaf("display_unit", KNOWN, "mmHg", None, "mmHg"),
    "drainage.scale": Leaf("drainage.scale"),
    "pause.lower": Leaf("pause.lower", KNOWN, 6, "mmHg", "6", frozenset({"trailing zero"})),
    "pause.upper": Leaf("pause.upper", UNREADABLE, None, "mmHg", "x", frozenset({"unit period"})),
    "treat_above": Leaf("treat_above"),
    "revision": Leaf("revision", KNOWN, 5, None, "5"),
    "irrigation.fluid": Leaf("irrigation.fluid", KNOWN, "lactated Ringer's", None, "LR"),
    "irrigation.additive.concentration": Leaf(
        "irrigation.additive.concentration", KNOWN, 6, "mg/L", "6"
    ),
    "before.irrigation.additive.concentration": Leaf(
        "before.irrigation.additive.concentration", KNOWN, 6, "units/L", "6"
    ),
    "stop_when": Leaf("stop_when", KNOWN, "any", None, "any", to_be_written=True),
}
STRENGTH = "irrigation.additive.concentration"
TRUE, FALSE = Given(("therapy",)), Given(("treat_above",))
UNKNOWN = Multiple("treat_above", 2)
VALUES = {True: TRUE, False: FALSE, None: UNKNOWN}


def meant(tree: Tree) -> bool | None:
    """What evaluate makes of the tree, when the other walkers say the same."""
    found = by_evaluate(tree, LEAVES)
    assert by_solve([tree], LEAVES) == [found]
    assert by_sql([tree], [LEAVES]) == [[found]]
    assert by_polars([tree], [LEAVES]) == by_python([tree], [LEAVES]) == [[found]]
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
    "another flag": (Not(Written("pause.lower", "unit period")), True),
    "one flag and not another": (
        And(
            (Written("pause.lower", "trailing zero"), Not(Written("pause.lower", "naked decimal")))
        ),
        True,
    ),
    "written, absent": (Written("treat_above", "trailing zero"), None),
    "names": (Names("irrigation.fluid", ("saline", 'L"R')), False),
    "names, one of a list": (Names("irrigation.fluid", ("saline", "lr")), True),
    "names, unreadable": (Names("pause.upper", ("x",)), True),
    "names, absent": (Names("treat_above", ("x",)), None),
    "names, to be written": (Names("stop_when", ("any",)), None),
    "less": (Compare(one("pause.lower"), "<", 7), True),
    "of one kind": (Compare(one(STRENGTH), "<", 7, OneKind((STRENGTH,), (("mg/L", "g/L"),))), True),
    "not of the kind": (
        Compare(one(STRENGTH), "<", 7, OneKind((STRENGTH,), (("units/L",),))),
        None,
    ),
    "of two kinds": (
        Compare(
            (*one(STRENGTH), *one(f"before.{STRENGTH}")),
            "==",
            12,
            OneKind((STRENGTH, f"before.{STRENGTH}"), (("mg/L",), ("units/L",))),
        ),
        None,
    ),
    "not less": (Compare(one("pause.lower"), "<", 6), False),
    "at most": (Compare(one("pause.lower"), "<=", 6), True),
    "below, and so at most": (Compare(one("pause.lower"), "<=", 7), True),
    "not at most": (Compare(one("pause.lower", 2), "<=", 11), False),
    "equal": (Compare(one("pause.lower", -1), "==", -6), True),
    "over, and not equal": (Compare(one("pause.lower"), "==", 5), False),
    "below, and not equal": (Compare(one("pause.lower"), "==", 7), False),
    "two terms": (Compare((*one("pause.lower", 2), *one("revision", -1)), "==", 7), True),
    "no terms": (Compare((), "<", 1), True),
    "a product": (Compare((Term(1, ("pause.lower", "pause.lower")),), "==", 36), True),
    "unreadable": (Compare(one("pause.upper"), "<", 7), None),
    "one of two unreadable": (
        Compare((*one("pause.lower"), *one("pause.upper")), "<", 7),
        None,
    ),
    "one of two factors unreadable": (
        Compare((Term(1, ("pause.lower", "pause.upper")),), "<", 7),
        None,
    ),
    "multiple": (Multiple("pause.lower", 3), True),
    "not multiple": (Multiple("pause.lower", 4), False),
    "multiple, absent": (Multiple("treat_above", 4), None),
    "member": (Member(Subject("therapy"), ("drainage", "irrigation")), True),
    "not member": (Member(Subject("therapy"), ("drainage",)), False),
    "member, with an apostrophe": (
        Member(Subject("irrigation.fluid"), ("lactated Ringer's",)),
        True,
    ),
    "member, absent": (Member(Subject("drainage.scale"), ("mmHg",)), None),
    "unit member": (Member(Subject("pause.lower", is_unit=True), ("mmHg",)), True),
    "unit, unreadable": (Member(Subject("pause.upper", is_unit=True), ("mmHg",)), None),
    "same": (Same(Subject("pause.lower", is_unit=True), Subject("display_unit")), True),
    "not same": (Same(Subject("therapy"), Subject("display_unit")), False),
    "same, the left absent": (Same(Subject("drainage.scale"), Subject("display_unit")), None),
    "same, the right absent": (Same(Subject("display_unit"), Subject("drainage.scale")), None),
}


@of_each("name", ATOMS)
def test_an_atom_means_the_same_to_all_walkers(name):
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
    of_both = Compare((*one("pause.lower"), *one("pause.upper")), "<", 7)
    assert missing(of_both, LEAVES) == ("pause.upper",)
    assert missing(Written("treat_above", "unit period"), LEAVES) == ("treat_above",)
    assert missing(Names("stop_when", ("any",)), LEAVES) == ("stop_when",)
    assert missing(ATOMS["not of the kind"][0], LEAVES) == (STRENGTH,)
    assert missing(ATOMS["of two kinds"][0], LEAVES) == (STRENGTH, f"before.{STRENGTH}")


NUMBERS = {"quantity", "instant", "count"}

# The language of another engine is standard SQL, and the names of its columns are its contract.
STANDARD = {
    "given, any of a section": '("treat_above given" OR "pause.upper given")',
    "written": '"pause.lower written trailing zero"',
    "names": '"irrigation.fluid names ee83d83d5a7f"',
    "less": '(1 * "pause.lower" < 7)',
    "of one kind": (
        "(CASE WHEN ((\"irrigation.additive.concentration unit\" IN ('mg/L', 'g/L'))) "
        'THEN (1 * "irrigation.additive.concentration" < 7) END)'
    ),
    "not at most": '(2 * "pause.lower" <= 11)',
    "equal": '(-1 * "pause.lower" = -6)',
    "no terms": "(0 < 1)",
    "two terms": '(2 * "pause.lower" + -1 * "revision" = 7)',
    "a product": '(1 * "pause.lower" * "pause.lower" = 36)',
    "multiple": '("pause.lower" % 3 = 0)',
    "member": "(\"therapy\" IN ('drainage', 'irrigation'))",
    "member, with an apostrophe": "(\"irrigation.fluid\" IN ('lactated Ringer''s'))",
    "same": '("pause.lower unit" = "display_unit")',
    "another flag": '(NOT "pause.lower written unit period")',
}


@pytest.mark.parametrize("name", STANDARD)
def test_a_condition_in_sql(name):
    assert sql(ATOMS[name][0]) == STANDARD[name]


def test_conditions_in_sql_are_joined_and_bracketed():
    parts = (Given(("therapy",)), Given(("starts",)))
    assert sql(And(parts)) == '(("therapy given") AND ("starts given"))'
    assert sql(Or(parts)) == '(("therapy given") OR ("starts given"))'


def test_no_conditions_joined_are_true_and_none_to_choose_from_are_false():
    assert (meant(And(())), meant(Or(()))) == (True, False)


def test_columns_have_the_types_of_what_they_hold():
    for path, field in field_table().fields.items():
        flags, lists = frozenset({"unit period", "naked decimal"}), frozenset({("a", "b")})
        assert list(columns(field, flags, lists)) == [
            f'"{path} given" BOOLEAN NOT NULL',
            f'"{path}" {"BIGINT" if field.kind in NUMBERS else "VARCHAR"}',
            f'"{path} unit" VARCHAR',
            f'"{path} written naked decimal" BOOLEAN',
            f'"{path} written unit period" BOOLEAN',
            f'"{path} names {digest_of_list(("a", "b"))}" BOOLEAN',
        ]


@pytest.mark.parametrize("walk", [solve, sql, paths_of])
def test_a_walker_fails_loudly_on_a_kind_of_node_that_it_does_not_know(walk):
    with pytest.raises(AssertionError, match="a kind of node"):
        walk("a kind of node")


def test_evaluate_knows_every_kind_of_node_and_fails_loudly_on_another():
    assert set(_MEANINGS) == set(get_args(Tree))
    with pytest.raises(KeyError):
        evaluate("a kind of node", LEAVES)


NUMERIC = [field for field in field_table().fields.values() if field.kind in NUMBERS]


@pytest.mark.parametrize("field", NUMERIC, ids=lambda field: field.path)
def test_every_number_in_the_conceivable_range_can_be_and_no_other(field):
    value = value_of(field.path)
    solver = z3.Solver()
    solver.add(*well_formed(field))
    for number in (field.lowest, field.highest):
        assert solver.check(value == number) == z3.sat
    for number in (field.lowest - 1, field.highest + 1):
        assert solver.check(value == number) == z3.unsat
    for unit in field.decimals:
        assert solver.check(unit_of(field.path) == choice_code(unit)) == z3.sat
    if field.decimals:
        assert solver.check(unit_of(field.path) == choice_code("no unit")) == z3.unsat


def test_what_holds_of_every_order_is_said_of_each_kind_of_field():
    fields = field_table().fields
    said = {
        path: list(well_formed(fields[path])) for path in ("stop_when", "therapy", "treat_above")
    }
    assert {path: len(facts) for path, facts in said.items()} == {
        "stop_when": 2,
        "therapy": 3,
        "treat_above": 4,
    }
    solver = z3.Solver()
    solver.add(*said["therapy"], *said["treat_above"])
    assert solver.check() == z3.sat
    assert solver.check(value_of("treat_above") > fields["treat_above"].highest) == z3.unsat
    assert solver.check(value_of("therapy") == choice_code("no such therapy")) == z3.unsat
    assert solver.check(known_of("therapy"), z3.Not(given_of("therapy"))) == z3.unsat
