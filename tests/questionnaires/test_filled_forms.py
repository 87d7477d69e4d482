"""Filling in a Questionnaire makes the orders of the set that it is read as, and no other."""

from __future__ import annotations

import itertools

from drawing import most
from filled_forms import WRITTEN, forms, orders_of
from hypothesis import assume, given
from questionnaire_forms import set_of

from orderlint.finding import Refused
from orderlint.order import SIGNING_FIELDS
from orderlint.order_set.model import order_of


def of_set(made):
    """Every order that the set yields, but for the facts of signing."""
    paths = [path for path in made.slots if path not in SIGNING_FIELDS]
    asked = [path for path in paths if any(leaf.given for leaf in made.slots[path].options)]
    rest = {path: made.slots[path].options[0] for path in made.slots if made.slots[path].options}
    for taken in itertools.product((True, False), repeat=len(made.offered_sections)):
        sections_on = dict(zip(made.offered_sections, taken, strict=True))
        for picked in itertools.product(*(made.slots[path].options for path in asked)):
            leaves = {**rest, **dict(zip(asked, picked, strict=True))}
            order = order_of(made, leaves, sections_on)
            yield frozenset(
                (path, WRITTEN if order[path].to_be_written else order[path].text)
                for path in paths
                if order[path].given
            )


@most(50)
@given(forms())
def test_a_set_yields_what_the_form_can_be_filled_in_to(form):
    try:
        made = set_of(form)
    except Refused:
        assume(False)
    assume(not made.unsettled)
    assert {*of_set(made)} == orders_of(form)
