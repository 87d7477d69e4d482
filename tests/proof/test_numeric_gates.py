"""A condition that compares numbers hides as arithmetic says, and what is proved of it is so."""

from __future__ import annotations

import operator
from dataclasses import replace
from fractions import Fraction

from drawing import most
from drawn_sets import decide, every_order, outcome, rule_of, rulebook_of
from hypothesis import given
from hypothesis import strategies as st
from oracle.reading import MMHG
from order_sets import order_set

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.language.lower import lower
from orderlint.language.syntax import parse
from orderlint.language.types import Scope
from orderlint.order import SIGNING_FIELDS
from orderlint.reading.node import Scalar
from orderlint.rulebook.yaml_fields import quantity

SIGNS = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "==": operator.eq,
    "!=": operator.ne,
}
IN_CMH2O = {"mmHg": MMHG, "cmH2O": Fraction(1)}
PRESSURES = st.tuples(st.integers(5, 12), st.sampled_from(["mmHg", "cmH2O"]))
COMPARED = st.tuples(st.sampled_from(sorted(SIGNS)), PRESSURES)


def words(pressure):
    return f"{pressure[0]} {pressure[1]}"


def in_cmh2o(pressure):
    return pressure[0] * IN_CMH2O[pressure[1]]


def shown(level, comparison):
    sign, limit = comparison
    return SIGNS[sign](in_cmh2o(level), in_cmh2o(limit))


def gated(levels, uppers, comparisons, word="and"):
    """A set whose titration is shown by numbers of two settings; only what it offers is a slot."""
    (sign, low), (other, high) = comparisons
    made = order_set(
        f"therapy: irrigation\n"
        f"treat_above: {{choose: [{', '.join(map(words, levels))}]}}\n"
        f"pause: {{upper: {{choose: [{', '.join(map(words, uppers))}]}}}}\n"
        f"titration:\n"
        f"  max: {{choose: [40 mL/h, 60 mL/h]}}\n"
        f"  shown_when: treat_above {sign} low {word} pause.upper {other} high\n"
        f"  limits: {{low: {words(low)}, high: {words(high)}}}"
    )
    assert made.faults == ()
    slots = {path: slot for path, slot in made.slots.items() if path not in SIGNING_FIELDS}
    return replace(made, slots=slots)


def lists():
    return st.lists(PRESSURES, min_size=1, max_size=4, unique=True)


@most(60)
@given(lists(), lists(), st.tuples(COMPARED, COMPARED), st.sampled_from(["and", "or"]))
def test_it_is_shown_as_arithmetic_says(levels, uppers, comparisons, word):
    made = gated(levels, uppers, comparisons, word)
    for order in every_order(made):
        level, upper = (
            (order.leaves[path].text.split()[0], order.leaves[path].unit)
            for path in ("treat_above", "pause.upper")
        )
        held = [
            shown((int(number), unit), comparison)
            for (number, unit), comparison in zip((level, upper), comparisons, strict=True)
        ]
        wanted = all(held) if word == "and" else any(held)
        assert order.leaves["titration.max"].given == wanted


@st.composite
def rules(draw):
    """A rule on what is hidden and one of the settings on which that depends."""
    path = draw(st.sampled_from(["treat_above", "pause.upper"]))
    sign, limit = draw(COMPARED)
    rate = draw(st.sampled_from(["40 mL/h", "50 mL/h", "60 mL/h"]))
    text = draw(
        st.sampled_from(
            [
                f"not given(titration.max) or {path} {sign} edge",
                f"given(titration.max) or {path} {sign} edge",
                f"not given(titration.max) or titration.max < rate or {path} {sign} edge",
                f"{path} {sign} edge or titration.max <= rate",
            ]
        )
    )
    texts = {"edge": words(limit), "rate": rate}
    place = Place("rules.yaml", 1, 1)
    limits = {name: quantity(Scalar(each, each, "text", place)) for name, each in texts.items()}
    return rule_of("drawn", lower(parse(text), Scope(field_table(), limits=limits)))


@most(60)
@given(lists(), lists(), st.tuples(COMPARED, COMPARED), st.sampled_from(["and", "or"]), rules())
def test_what_is_proved_is_what_every_order_says(levels, uppers, comparisons, word, rule):
    made = gated(levels, uppers, comparisons, word)
    (proof,) = decide(made, rulebook_of(rule))
    assert proof.result.value == outcome(rule, [*every_order(made)])


def test_a_section_that_no_number_shows_is_never_shown():
    made = gated([(8, "mmHg")], [(12, "mmHg")], ((">", (8, "mmHg")), (">", (5, "mmHg"))))
    hidden = [order.leaves["titration.max"].given for order in every_order(made)]
    assert hidden == [False, False]
