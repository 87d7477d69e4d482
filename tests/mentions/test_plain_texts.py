"""A text is plain only if each of its words is listed, in a clause in which it can stand."""

from __future__ import annotations

import time

import pytest
from each_case import of_each

from orderlint.mentions.plain_texts import says_known_acts, says_what_is_seen

KNOWN = """
call before any change of the drain height
Call neurosurgery before clamping or flushing the drain.
Ask the team on call prior to moving the drain
clamp for transport, at most 30 min, then unclamp
Clamp for transport. Call before any change of the rate.
none
""".strip().splitlines()
NOT_KNOWN = """
call before any change of the drain height. VOID
call before any change of the drain height; raise the drain
call before 5 changes of the drain
do not call before any change of the drain height
change the drain height
drain down
clamp for transport 30
clamp for transport, at most half an hour
do not clamp
clamp for transport, not for suction
call nobody before any change of the drain height
call before any change of the drain height ↓ 5
IT vancomycin 20 mg daily
x
""".strip().splitlines()


@of_each("text", KNOWN)
def test_calls_and_clamping_are_known(text):
    assert says_known_acts(text)


@of_each("text", NOT_KNOWN)
def test_what_has_another_word_is_not_known(text):
    assert not says_known_acts(text)


SEEN = ["neurological change, new colour, leak", "clear on two checks", "blood in the drain", ""]
NOT_SEEN = ["leak, clamp", "clear on 2 checks", "no leak", "drain open", "D5W", "leak & VOID", "½"]


@of_each("text", SEEN)
def test_what_is_seen_is_plain(text):
    assert says_what_is_seen(text)


@of_each("text", NOT_SEEN)
def test_a_word_that_is_in_no_list_is_not_plain(text):
    assert not says_what_is_seen(text)


@pytest.mark.parametrize("piece", ["call ", "before ", "clamp ", "leak, ", ". ", "\n", "30 "])
def test_the_time_grows_with_the_text_alone(piece):
    text = piece * (20_000 // len(piece))
    began = time.process_time()
    says_known_acts(text)
    says_what_is_seen(text)
    assert time.process_time() - began < 1
