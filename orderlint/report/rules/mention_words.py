"""The words by which a rule on free texts finds what it is about, for those who read the rulebook.

Only lists: which words mean what stands in `mentions/words.py`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.mention_check.faults import ACT_RULE, NUMBER_RULE
from orderlint.mentions.words import ACTS, NEGATORS, OTHERS, SUBJECTS
from orderlint.report.words import name_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.mentions.words import Subject


def words_of(rule: str) -> Iterator[tuple[str, str]]:
    """What a rule looks for, each with its words; nothing for a rule that is not on free texts."""
    if rule == NUMBER_RULE:
        for name, subject in SUBJECTS.items():
            yield f"A number by {name}", f"{_listed(subject.words)}: {_settings(subject)}"
        yield "No number by", _listed(sorted(OTHERS))
    elif rule == ACT_RULE:
        for name, act in ACTS.items():
            beside = f" (beside {_listed(act.objects)})" if act.objects else ""
            yield f"To {name}", f"{_listed(act.verbs)}{beside}"
        yield "Not after", f"{_listed(sorted(NEGATORS))}, or a word that ends in n't"


def _listed(words: tuple[str, ...] | list[str]) -> str:
    return ", ".join(words)


def _settings(subject: Subject) -> str:
    """The settings that a number of a subject can mean, each once."""
    paths = dict.fromkeys(path for paths in subject.paths.values() for path in paths)
    return ", ".join(map(name_of, paths))
