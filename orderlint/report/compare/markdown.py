"""A summary of a comparison for a pull request, in Markdown: what is new, in under 60 lines.

Only what a reviewer decides by; the text of the verb has the rest. Never a decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.ci.markdown import MOST_FINDINGS, list_items
from orderlint.report.compare import set_words, words
from orderlint.report.markdown_escape import code, visibly
from orderlint.report.order.words import not_checked_words
from orderlint.report.words import (
    CAUTION,
    FOR_CHANGE,
    LEVELS,
    LEVELS_FOR_AUTHOR,
    counted,
    instant_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets, NewlyBrokenRule
    from orderlint.finding import Finding

MOST_LINES = 10
"""Lines of any other list; how many more there are is said."""


def of_sets(found: ComparedSets, at: int) -> str:
    """The summary of two order sets, ending in a line feed; `at` is in ms since 1970 UTC."""
    relation, sentence = set_words.relation_words(found)
    verdict = FOR_CHANGE[found.assessment.verdict]
    parts = [
        f"## {code(found.after.file)}: {verdict}, by what is new",
        f"The later set is **{relation.lower()}**. {visibly(sentence)} "
        f"{visibly(set_words.newly_words(found))}",
        *_listed("", set_words.headlines(found)),
        *_listed("Not checked", not_checked_words(found.not_checked)),
        *_items("Newly broken", list(map(_newly, _told(found))), MOST_FINDINGS),
        *_listed("Not settled", _left_open(found)),
        *_listed("Also broken", set_words.covered_words(found)),
        *_listed("Broken before too", filter(None, [set_words.broken_before_words(found)])),
        *_listed("Offered otherwise", map(set_words.option_change_words, found.option_changes)),
        visibly(set_words.checked_words(found, f", as of {instant_words(at)}")),
        f"*{visibly(CAUTION)}*",
    ]
    return "\n\n".join(parts) + "\n"


def _told(found: ComparedSets) -> list[NewlyBrokenRule]:
    """The rules newly broken that have a finding of their own, the heaviest first."""
    ranks = {id(finding): rank for rank, finding in enumerate(found.assessment.findings)}
    told = [item for item in found.newly_broken if id(item.set_finding) in ranks]
    return sorted(told, key=lambda item: ranks[id(item.set_finding)])


def _newly(item: NewlyBrokenRule) -> str:
    """One rule that a new order breaks: what it says, the picks, what to ask, and where."""
    finding = item.set_finding
    assert finding is not None  # INVARIANT: `_told` has no other
    picks = set_words.example_picks(item.broken.example) or ["all as it is preset"]
    says = item.order_finding.says if item.order_finding else finding.says
    return (
        f"**{LEVELS_FOR_AUTHOR[finding.level]}** {code(item.broken.rule)}: {visibly(says)} "
        f"Picked: {visibly('; '.join(picks))}. {_question(finding)} ({code(str(finding.place))})"
    )


def _left_open(found: ComparedSets) -> Iterator[str]:
    """What leaves the comparison open, and rules that a new order may leave unchecked."""
    on_sets = {id(item.set_finding) for item in found.newly_broken}
    yield from (item.says for item in found.assessment.findings if id(item) not in on_sets)
    if found.assessment.unchecked:
        names = ", ".join(item.rule for item in found.assessment.unchecked)
        yield f"A new order may leave unchecked: {names}."


def of_orders(found: ComparedOrders, at: int) -> str:
    """The summary of two orders, ending in a line feed; `at` is in ms since 1970 UTC."""
    label, sentence = words.verdict_words(found)
    change, now = found.assessment, found.after.assessment
    unchecked = len(change.unchecked) + len(now.unchecked)
    lines = [f"{counted(unchecked, 'rule')} could not be checked."] if unchecked else []
    parts = [
        f"## {code(found.after.file)}: {visibly(label)}",
        visibly(sentence),
        *_listed("Not checked", (*not_checked_words(found.not_checked), *lines)),
        *_items("In the change", list(map(_finding, change.findings)), MOST_FINDINGS),
        *_items("In the later order", list(map(_finding, now.findings)), MOST_FINDINGS),
        *_listed("What is changed", words.change_words(found)),
        *_listed("What the controller would do otherwise, by ICP", words.behaviour_lines(found)),
        visibly(f"Compared with {found.before.file}, as of {instant_words(at)}. {words.COVERS}"),
        f"*{visibly(CAUTION)}*",
    ]
    return "\n\n".join(parts) + "\n"


def _finding(finding: Finding) -> str:
    return (
        f"**{LEVELS[finding.level]}** {code(finding.rule)}: {visibly(finding.says)} "
        f"{_question(finding)} ({code(str(finding.place))})"
    )


def _question(finding: Finding) -> str:
    return visibly(f"Ask the {finding.ask_whom}: {finding.ask}")


def _listed(heading: str, lines: Iterable[str]) -> Iterator[str]:
    """A list of plain texts under a heading; nothing where there is none."""
    return _items(heading, list(map(visibly, lines)), MOST_LINES)


def _items(heading: str, items: Sequence[str], most: int) -> Iterator[str]:
    """A list of items that are marked already, and how many more there are."""
    if not items:
        return
    yield f"{f'**{visibly(heading)}**' if heading else ''}\n\n{list_items(items, most)}".lstrip()
