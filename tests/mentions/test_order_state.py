"""A text that takes the order back is found, and one that speaks of something else is not."""

from __future__ import annotations

import time

import pytest
from each_case import of_each

from orderlint.mentions.order_state import MAY_BE_VOID, NOT_TO_RUN, VOID, states_in

SAID = [
    ("VOID", VOID, "VOID"),
    ("Order void.", VOID, "Order void"),
    ("cancel this order", VOID, "cancel this order"),
    ("Please disregard this order", VOID, "Please disregard this order"),
    ("Notes: hold order", VOID, "hold order"),
    ("This order has been superseded by revision 3", VOID, None),
    ("Do not use", VOID, "Do not use"),
    ("Don’t start.", VOID, "Don’t start"),
    ("Call first. Do not use this order", VOID, "Do not use this order"),
    ("Entered in error", VOID, "Entered in error"),
    ("wrong patient", VOID, "wrong patient"),
    ("Cancel these orders.", VOID, "Cancel these orders"),
    ("for training only", VOID, "for training only"),
    ("hold order until the scan is seen", MAY_BE_VOID, None),
    ("On hold pending CT", MAY_BE_VOID, None),
    ("After the scan this order is void", MAY_BE_VOID, None),
    ("Do not irrigate", NOT_TO_RUN, "Do not irrigate"),
    ("Call first; hold irrigation.", NOT_TO_RUN, "hold irrigation"),
    ("irrigation is contraindicated", NOT_TO_RUN, None),
]
QUIET = """
This order supersedes all previous orders.
Previous order void.
Discontinue all other orders
hold enoxaparin
orders on hold: none
hold irrigation if ICP is above 25
Hold irrigation during transport
Do not irrigate during transport
If cloudy, do not use
If cloudy: do not use
Do not use the left drain
do not start until the scan is seen
Do not start before the second nurse has checked
Avoid holding the head
stop irrigation when clear
not on hold
call before any change of the drain height
Never give heparin
cancelled the scan
""".strip().splitlines()


@of_each(("text", "name", "words"), SAID)
def test_what_is_said_of_the_order_is_found(text, name, words):
    (found,) = states_in(text)
    end = found.offset + found.length
    assert found.act == name
    assert text[found.offset : end] == (words or text.strip("."))
    assert found.sentence[0] <= found.offset < end <= found.sentence[1]


@of_each("text", QUIET)
def test_what_is_said_of_something_else_is_not(text):
    assert [*states_in(text)] == []


def test_each_clause_that_goes_on_says_it_again():
    assert [found.act for found in states_in("Do not use: superseded")] == [VOID, VOID]


@pytest.mark.parametrize(
    "piece", ["void ", "void, ", "hold order ", "this order ", "do not ", "void: ", "is ", "\n"]
)
def test_the_time_grows_with_the_text_alone(piece):
    began = time.process_time()
    list(states_in("void " + piece * (20_000 // len(piece))))
    assert time.process_time() - began < 1
