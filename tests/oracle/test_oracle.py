"""Drawn orders before verify and a second implementation of the rulebook: both say the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from drawing import share_of
from oracle.answers import RULES, Answer
from oracle.compare import differences, smallest
from oracle.draw import draw, nested
from oracle.judge import judge
from oracle.silences import SILENCES

if TYPE_CHECKING:
    from collections.abc import Iterable

DEEP = 20_000


def assert_agreed(seeds: Iterable[int]) -> None:
    for seed in seeds:
        document = draw(seed)
        for difference in differences(document):
            pytest.fail(f"seed {seed}: {difference}: {smallest(document, difference)}")


def orders_of_this_run() -> int:
    """As many as the thorough run has time for, and eighty in any other: each takes 10 ms."""
    return 1_600 if share_of(100) == 100 else 80


@pytest.mark.hypothesis
def test_verify_and_the_oracle_agree() -> None:
    assert_agreed(range(orders_of_this_run()))


@pytest.mark.deep
def test_verify_and_the_oracle_agree_on_many_orders() -> None:
    assert_agreed(range(100_000, 100_000 + DEEP))


def test_irrigation_in_transport_and_a_clamped_drain_are_both_told() -> None:
    order = {"therapy": "drainage", "transport.irrigation": "on", "transport.drain": "clamp"}
    found = judge(nested(order)).found
    assert {"irrigation-settings-without-irrigation", "transport-irrigation-while-clamped"} <= found
    assert not differences(nested(order))


@pytest.mark.slow
def test_the_draw_breaks_keeps_and_leaves_open_each_rule() -> None:
    judgements = [judge(draw(seed)) for seed in range(900)]
    for rule in RULES:
        answers = {judgement.answers[rule] for judgement in judgements}
        assert {Answer.BROKEN, Answer.KEPT} <= answers, rule
        assert any(rule in judgement.found for judgement in judgements), rule


def test_each_rule_silences_rules_of_the_oracle() -> None:
    assert RULES.keys() >= SILENCES.keys() | {rule for each in SILENCES.values() for rule in each}
