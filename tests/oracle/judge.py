"""An order → what each rule answers, and which findings stand after those that others silence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from oracle import band, calls, capability, drain, units, volumes
from oracle.answers import RULES, Answer, Rule
from oracle.reading import Order, read_order
from oracle.silences import SILENCES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

FAMILIES = (units, band, drain, volumes, capability, calls)  # each fills RULES


@dataclass(frozen=True)
class Break:
    """A rule that is broken, and the settings it is broken at."""

    rule: str
    about: frozenset[str]


@dataclass(frozen=True)
class Judgement:
    """`found` are the findings shown, `unchecked` the rules that some place leaves open."""

    answers: Mapping[str, Answer]
    found: frozenset[str]
    unchecked: frozenset[str]


def judge(document: Mapping[str, object]) -> Judgement:
    order = read_order(document)
    each = {
        rule.id: {place: rule.ask(order, place) for place in rule.places or ("",)}
        for rule in RULES.values()
    }
    breaks = [
        Break(name, _settings(RULES[name], place, order))
        for name, answers in each.items()
        for place, answer in answers.items()
        if answer is Answer.BROKEN
    ]
    return Judgement(
        answers={name: max(answers.values()) for name, answers in each.items()},
        found=frozenset(one.rule for one in breaks if _shown(one, breaks)),
        unchecked=frozenset(
            name for name, answers in each.items() if Answer.UNKNOWN in answers.values()
        ),
    )


def _settings(rule: Rule, place: str, order: Order) -> frozenset[str]:
    """The settings that a broken rule is about; of a section, each that is written in it."""
    if place:
        return frozenset({place})
    sections = tuple(f"{about}." for about in rule.about)
    return frozenset(rule.about) | {path for path in order if path.startswith(sections)}


def _shown(one: Break, breaks: Iterable[Break]) -> bool:
    """Whether no finding that is shown itself silences this one, at a setting they share."""
    silencers = (other for other in breaks if one.rule in SILENCES.get(other.rule, ()))
    return not any(one.about & other.about and _shown(other, breaks) for other in silencers)
