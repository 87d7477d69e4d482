"""Reads what a Questionnaire asks to be shown as a condition of an order set.

Each term asks of the answer to one question; what no condition of a set says is not understood.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.element import Element, made
from orderlint.fhir.questionnaire.answers import AnswerOption, answer_of
from orderlint.fhir.questionnaire.items import Clause, UnclearError
from orderlint.fields import field_table
from orderlint.leaf_reader import read_leaf
from orderlint.order_set.slot_reader import LIMITS, SHOWN_WHEN
from orderlint.quantity_words import format_exactly
from orderlint.reading.node import Node, Scalar, nest_paths

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from orderlint.finding import Place
    from orderlint.order import Leaf

_ANSWERS = ("answerCoding", "answerString", "answerBoolean")
MOST_TERMS = 200
"""Terms of one condition; a condition of a set has no room for more."""


class SettingQuestion:
    """The question of a setting; `is_always` if it has an answer on each order.

    `leaves` are its answers as the order's reader reads them; None of a blank.
    """

    def __init__(
        self, path: str, answers: Sequence[AnswerOption] | None, *, is_always: bool
    ) -> None:
        self.field = field_table().fields[path]
        self.path = path
        self.answers = answers
        self.is_always = is_always

    @functools.cached_property
    def leaves(self) -> tuple[Leaf, ...]:
        """Its answers as they are read."""
        return tuple(read_leaf(self.field, answer.text).leaf for answer in self.answers or ())

    @functools.cached_property
    def keys(self) -> tuple[int | str | None, ...]:
        """What a condition of a set compares of each answer; None where there is nothing."""
        return tuple(map(self._key, self.leaves))

    def _key(self, leaf: Leaf) -> int | str | None:
        if not leaf.known or leaf.value is None or self.field.kind == "choice":
            return leaf.value
        if self.field.kind == "quantity":
            return self.field.comparison_key(leaf.value, leaf.text, leaf.unit)
        return None

    @functools.cached_property
    def numbers(self) -> Mapping[int | str | None, set[int]]:
        """The answers that a condition takes for one, by what it compares."""
        found: dict[int | str | None, set[int]] = {}
        for number, key in enumerate(self.keys):
            found.setdefault(key, set()).add(number)
        return found


class _Accepted(NamedTuple):
    """The answers to one question by which a clause holds, by their number."""

    numbers: set[int]
    given: set[bool]


def condition_of(
    clauses: Sequence[Clause], questions: Mapping[str, SettingQuestion]
) -> Mapping[str, Node]:
    """The condition of some clauses, all of which must hold, by the keys of a set.

    `questions` has what is understood, by linkId. Raises UnclearError where it has no words in a
    set.
    """
    place = clauses[0][0].place
    if sum(map(len, clauses)) > MOST_TERMS:
        raise UnclearError("it asks for more than one condition can say", place)
    limits: dict[str, Scalar] = {}
    parts = list(dict.fromkeys(_clause(clause, questions, limits) for clause in clauses))
    words = [f"({part})" if " or " in part and len(parts) > 1 else part for part in parts]
    shown_when = {SHOWN_WHEN: made(" and ".join(words), place)}
    return {**shown_when, LIMITS: nest_paths(limits, place)} if limits else shown_when


def _clause(
    clause: Clause, questions: Mapping[str, SettingQuestion], limits: dict[str, Scalar]
) -> str:
    by_question: dict[str, _Accepted] = {}
    for term in clause:
        question = _question(term, questions)
        accepted = by_question.setdefault(term.text("question"), _Accepted(set(), set()))
        _accept(term, question, accepted)
    parts: list[str] = []
    for link_id, accepted in by_question.items():
        question = questions[link_id]
        if accepted.numbers:
            parts.append(_among(question, accepted.numbers, limits, clause[0].place))
        for is_given in sorted(accepted.given, reverse=True):
            parts.append(f"{'' if is_given else 'not '}given({question.path})")
    if not parts:
        raise UnclearError("no answer makes it true", clause[0].place)
    return " or ".join(parts)


def _question(term: Element, questions: Mapping[str, SettingQuestion]) -> SettingQuestion:
    asked = term.text("question")
    if asked not in questions:
        said = f"it asks of {asked or 'nothing'}, which is no question of a setting that is read"
        raise UnclearError(said, term.place)
    return questions[asked]


def _accept(term: Element, question: SettingQuestion, accepted: _Accepted) -> None:
    """Add the answers by which a term holds."""
    operator, keys = term.text("operator"), [key for key in _ANSWERS if term.node.get(key)]
    if len(keys) != 1:
        raise UnclearError("it asks for no answer that is a text or a coding", term.place)
    if operator == "exists":
        truth = term.scalar("answerBoolean")
        if truth is None or truth.form != "truth":
            raise UnclearError(
                "it asks whether there is an answer, and not true or false", term.place
            )
        accepted.given.add(truth.text == "true")
        return
    if operator not in {"=", "!="}:
        raise UnclearError(f"{operator or 'nothing'} compares no texts", term.place)
    answers = question.answers
    if answers is None:
        raise UnclearError("it compares what is written in a blank", term.place)
    equal = _equal(term, keys[0], answers)
    if operator == "=":
        accepted.numbers.update(equal)
    elif question.is_always:
        accepted.numbers.update({*range(len(answers))} - equal)
    else:
        said = "!= of a question that may have no answer is taken in two ways"
        raise UnclearError(said, term.place)


def _equal(term: Element, key: str, answers: Sequence[AnswerOption]) -> set[int]:
    asked = answer_of(term, key)
    equal = {number for number, answer in enumerate(answers) if answer.same(asked)}
    if not equal:
        raise UnclearError("it asks for an answer that is none of the options", term.place)
    return equal


def _among(
    question: SettingQuestion, numbers: AbstractSet[int], limits: dict[str, Scalar], place: Place
) -> str:
    """That the answer is one of these: by its value, as a condition of a set compares."""
    meant = {key: question.numbers[key] for key in (question.keys[n] for n in sorted(numbers))}
    if None in meant or not all(same <= numbers for same in meant.values()):
        raise UnclearError("it tells answers apart that a condition of a set does not", place)
    if question.field.kind == "choice":
        listed = [choice for choice in question.field.choices if choice in meant]
        words = [f'"{choice}"' if "'" in choice else f"'{choice}'" for choice in listed]
    else:
        words = [_limit(question.leaves[min(same)], limits) for same in meant.values()]
    if len(words) == 1:
        return f"{question.path} == {words[0]}"
    return f"{question.path} in {{{', '.join(words)}}}"


def _limit(leaf: Leaf, limits: dict[str, Scalar]) -> str:
    """The name of a number in the condition, in which it is written as a limit is."""
    assert isinstance(leaf.value, int)  # a quantity that was read
    assert leaf.unit is not None
    assert leaf.place is not None
    text = format_exactly(leaf.value, leaf.unit)
    named = next((name for name, known in limits.items() if known.text == text), None)
    if named is None:
        named = f"answer_{len(limits) + 1}"
        limits[named] = made(text, leaf.place)
    return named
