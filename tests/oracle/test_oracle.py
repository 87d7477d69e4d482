"""Drawn orders before verify and a second implementation of the rulebook: both say the same."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest
from drawing import share_of
from oracle.answers import RULES, Answer
from oracle.compare import Difference, differences, smallest
from oracle.draw import draw, nested
from oracle.judge import judge
from oracle.silences import SILENCES

if TYPE_CHECKING:
    from collections.abc import Iterable

DEEP = 20_000


@dataclass(frozen=True)
class Meant:
    """A difference that stands wherever the rule `beside` is found too, shown by a small order."""

    difference: Difference
    beside: str
    order: dict[str, object]
    reason: str


MEANT = (
    Meant(
        difference=("found by verify alone", "transport-irrigation-while-clamped"),
        beside="irrigation-settings-without-irrigation",
        order={"therapy": "drainage", "transport.irrigation": "on", "transport.drain": "clamp"},
        reason="The page of irrigation-settings-without-irrigation says that it silences this "
        "rule, and both are about transport.irrigation, yet verify shows both: nothing is hidden.",
    ),
)


def unmeant(document: dict[str, object]) -> set[Difference]:
    found = judge(document).found
    meant = {one.difference for one in MEANT if one.beside in found}
    return differences(document) - meant


def assert_agreed(seeds: Iterable[int]) -> None:
    for seed in seeds:
        document = draw(seed)
        for difference in unmeant(document):
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


@pytest.mark.parametrize("meant", MEANT, ids=lambda meant: meant.difference[1])
def test_what_is_meant_still_occurs(meant: Meant) -> None:
    assert meant.reason
    assert meant.difference in differences(nested(meant.order))


def test_the_draw_breaks_keeps_and_leaves_open_each_rule() -> None:
    judgements = [judge(draw(seed)) for seed in range(900)]
    for rule in RULES:
        answers = {judgement.answers[rule] for judgement in judgements}
        assert {Answer.BROKEN, Answer.KEPT} <= answers, rule
        assert any(rule in judgement.found for judgement in judgements), rule


def test_each_rule_silences_rules_of_the_oracle() -> None:
    assert RULES.keys() >= SILENCES.keys() | {rule for each in SILENCES.values() for rule in each}
