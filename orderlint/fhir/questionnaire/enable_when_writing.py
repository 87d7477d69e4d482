"""Writes the condition of an order set as questions that must have certain answers.

A Questionnaire asks of one question at a time, and knows no number: a condition that compares two
settings, or the number that is written in a blank, has no place in it and is refused.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import And, Given, Member, Not, Or, Tree, atoms, paths_in
from orderlint.order import Leaf, State

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from typing import Literal as OneOf

    from orderlint.order_set.model import Gate, OrderSet, Slot

MOST_CLAUSES = 8
"""Groups inside one another that one condition may need: nobody reads more."""


class AnswerTerm(NamedTuple):
    """What is asked of the answer to the question of one setting.

    `text` is the answer that it must be; where it is None, whether there `is_given` an answer.
    """

    path: str
    text: str | None = None
    is_given: bool = True


class Layer(NamedTuple):
    """Terms that must hold together, or of which one must."""

    behavior: OneOf["all", "any"]
    terms: tuple[AnswerTerm, ...]


class _Literal(NamedTuple):
    """A part of a condition that reads one setting, as it stands or the other way round."""

    tree: Tree
    path: str
    holds: bool


def layers_of(gate: Gate, order_set: OrderSet) -> tuple[Layer, ...]:
    """The layers that must all hold for what has the gate to be shown.

    Raises Refused, with the place of the condition, where no questions say the same.
    """
    clauses = [_terms(clause, order_set, gate) for clause in _clauses(gate.tree, True, gate)]
    if not all(clauses):
        raise _refused(gate, "no answer makes it true")
    single = tuple(dict.fromkeys(terms[0] for terms in clauses if len(terms) == 1))
    layers = [Layer("any", terms) for terms in dict.fromkeys(clauses) if len(terms) > 1]
    return (*([Layer("all", single)] if single else []), *layers)


def _refused(gate: Gate, why: str) -> Refused:
    name = in_sentence(field_table().display_name(gate.path))
    return Refused(
        f"The condition of the {name} has no place in a Questionnaire: {why}.", gate.place
    )


def _clauses(tree: Tree, holds: bool, gate: Gate) -> list[tuple[_Literal, ...]]:
    """The conjunctive normal form: each clause is of literals, one of which must be true."""
    paths = paths_in(tree)
    if len(paths) == 1:
        return [(_Literal(tree, paths[0], holds),)]
    match tree:
        case Not(item):
            return _clauses(item, not holds, gate)
        case Given(several):
            return _clauses(Or(tuple(Given((path,)) for path in several)), holds, gate)
        case And(items) | Or(items):
            parts = [_clauses(item, holds, gate) for item in items]
            if isinstance(tree, And) == holds:
                return [clause for part in parts for clause in part]
            return _distributed(parts, gate)
        case _:
            raise _refused(gate, "it compares two settings")


def _distributed(
    parts: Sequence[Sequence[tuple[_Literal, ...]]], gate: Gate
) -> list[tuple[_Literal, ...]]:
    found: list[tuple[_Literal, ...]] = [()]
    for part in parts:
        if len(found) * len(part) > MOST_CLAUSES:
            raise _refused(gate, "it needs too many groups inside one another")
        found = [(*clause, *more) for clause, more in product(found, part)]
    return found


def _terms(clause: Iterable[_Literal], order_set: OrderSet, gate: Gate) -> tuple[AnswerTerm, ...]:
    """The terms of a clause, one of which must hold; none if no answer makes it true."""
    by_path: dict[str, list[_Literal]] = {}
    for literal in clause:
        by_path.setdefault(literal.path, []).append(literal)
    return tuple(
        term
        for path, literals in by_path.items()
        for term in _terms_of(order_set.slots[path], literals, order_set, gate)
    )


def _terms_of(
    slot: Slot, literals: Sequence[_Literal], order_set: OrderSet, gate: Gate
) -> list[AnswerTerm]:
    given = _given_options(slot, literals, gate)
    accepted = [leaf for leaf in given if _holds(literals, leaf)]
    if_absent = _may_be_absent(slot, order_set) and _holds(literals, Leaf(slot.path))
    without = [AnswerTerm(slot.path, is_given=False)] if if_absent else []
    compared = [atom for each in literals for atom in atoms(each.tree) if isinstance(atom, Member)]
    if given and len(accepted) == len(given) and not compared:
        return [AnswerTerm(slot.path), *without]
    texts = dict.fromkeys(leaf.text for leaf in accepted)
    return [*(AnswerTerm(slot.path, text) for text in texts), *without]


def _given_options(slot: Slot, literals: Sequence[_Literal], gate: Gate) -> list[Leaf]:
    """The answers that a question may get; one that stands for all where anything is written."""
    given = [leaf for leaf in slot.options if leaf.given]
    if not slot.blank or slot.step is not None:
        return given
    if not all(isinstance(atom, Given) for each in literals for atom in atoms(each.tree)):
        name = in_sentence(field_table().display_name(slot.path))
        raise _refused(gate, f"it reads what is written in the blank of the {name}")
    return [Leaf(slot.path, State.UNREADABLE)]


def _may_be_absent(slot: Slot, order_set: OrderSet) -> bool:
    hidden = order_set.gates_over(slot.path) or order_set.sections_over(slot.path)
    return bool(hidden) or any(not leaf.given for leaf in slot.options)


def _holds(literals: Iterable[_Literal], leaf: Leaf) -> bool:
    """Whether one of them is true of a leaf; what is unknown hides."""
    return any(evaluate(each.tree, {leaf.path: leaf}) is each.holds for each in literals)
