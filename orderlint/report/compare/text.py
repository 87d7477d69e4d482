"""Two orders beside each other as plain text.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.compare import words
from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order import words as order_words
from orderlint.report.order.text import block, suppressed_section
from orderlint.report.words import ALREADY_RUNNING, CAUTION, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.comparing.orders import ComparedOrders


def render(found: ComparedOrders, *, color: bool, width: int, at: int) -> str:
    """The whole report, ending in a line feed.

    `width` is in columns; `at` is the instant of checking, in milliseconds since 1970 UTC.
    """

    def part(heading: str, texts: Iterable[str], without: str) -> str:
        lines = [paragraph(text, width, 2, 2) for text in texts]
        return section(heading, lines or [paragraph(without, width, 2)], width)

    parts = [
        *_opening(found, color, width),
        *(block(finding, color, width) for finding in found.findings),
        part("What is changed", words.change_words(found), "No setting is changed."),
        part("Facts of signing", words.signed_words(found), "They are the same."),
        part("What the controller would do otherwise, by ICP", words.stretch_words(found), ""),
        part("Each order by itself", _by_itself(found), ""),
        part(
            "Could not be checked",
            words.unchecked_words(found),
            "Every rule that was asked of the change could be checked.",
        ),
        *suppressed_section(found.suppressed, width),
        *_inactive(found, width),
        part("What was checked", [_checked(found, at), words.COVERS], ""),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _opening(found: ComparedOrders, color: bool, width: int) -> Iterator[str]:
    if _may_be_running(found):
        yield paragraph(ALREADY_RUNNING, width)
    yield "\n".join(
        paragraph(f"{name}: {order_words.document_words(verified)}", width, 0, 2)
        for name, verified in (("Before", found.before), ("Now", found.after))
    )
    label, sentence = words.verdict_words(found)
    lines = [painted(f"Verdict: {label}", label, found.verdict, color)]
    left = (*found.unchecked, *found.after.unchecked)
    hidden = (*found.suppressed, *found.after.suppressed)
    texts = (
        sentence,
        *words.own_words(found),
        *order_words.unchecked_weight(left),
        *order_words.suppressed_weight(hidden),
    )
    lines += [paragraph(text, width, 2) for text in texts]
    yield "\n".join(lines)


def _may_be_running(found: ComparedOrders) -> bool:
    """Whether there is something to settle while staff may have either order running."""
    settle = found.findings or found.unchecked or found.after.findings or found.after.unchecked
    return bool(settle) if words.is_active(found) else order_words.may_be_running(found.after)


def _by_itself(found: ComparedOrders) -> Iterator[str]:
    yield f"Before: {words.by_itself(found.before)}"
    yield f"Now: {words.by_itself(found.after)} In full: orderlint verify."


def _inactive(found: ComparedOrders, width: int) -> Iterator[str]:
    """Only a policy that leaves out a value can keep a rule on changes from being asked."""
    lines = [paragraph(text, width, 2, 2) for text in order_words.inactive_words(found.inactive)]
    if lines:
        yield section("Rules that were not asked", lines, width)


def _checked(found: ComparedOrders, at: int) -> str:
    rules = "1 rule" if found.rules == 1 else f"{found.rules} rules"
    return (
        f"{found.before.file} and {found.after.file} as orders, setting by setting, by {rules} on "
        f"changes, and each by {found.after.rules} rules on orders, under “{found.after.policy}”, "
        f"as of {instant_words(at)}."
    )
