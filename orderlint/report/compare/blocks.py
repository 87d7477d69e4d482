"""Makes blocks of the comparison of two orders.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.blocks import Paragraphs, Pictures, VerdictBlock, list_section
from orderlint.report.compare import words
from orderlint.report.order import blocks as of_order
from orderlint.report.order import words as order_words
from orderlint.report.order.checked import standing_words
from orderlint.report.order.unchecked import unchecked_weight, unchecked_words
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.words import counted, digest_words, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets
    from orderlint.report.blocks import Block


def as_page(found: ComparedOrders, digests: tuple[str, str], at: int) -> str:
    """The page of two orders.

    `digests` are the SHA-256 of the bytes of the first and the second; `at` is as in `blocks`.
    """
    from orderlint.report.html import page  # noqa: PLC0415 - cold start

    label, _ = words.verdict_words(found)
    return page(f"{label}: {found.after.file}", [blocks(found, at, digests)])


def blocks(
    found: ComparedOrders, at: int, digests: tuple[str, str] | None = None
) -> Iterator[Block]:
    """The report; `at` is the instant of checking, in milliseconds since 1970 UTC."""
    yield from _opening(found)
    yield from map(of_order.finding_block, found.assessment.findings)
    yield from _changes(found)
    yield from of_order.suppressed_section(found.assessment.suppressed)
    # Only a policy that leaves out a value can keep a rule on changes from being asked.
    if found.assessment.inactive:
        yield of_order.not_asked_section(found.assessment.inactive)
    lines = (_checked(found, at), words.COVERS, *digest_lines(found, digests))
    yield list_section(order_words.CHECKED, lines, "small")
    yield of_order.CAUTION_BLOCK
    yield of_order.SIGNATURES


def digest_lines(
    found: ComparedOrders | ComparedSets, digests: tuple[str, str] | None
) -> Iterator[str]:
    """The digest of each file, if they are to be named."""
    files = (found.before.file, found.after.file)
    for name, digest in zip(files, digests or (), strict=False):
        yield f"{name}: {digest_words(digest)}"


def _opening(found: ComparedOrders) -> Iterator[Block]:
    """The warning if either may be running, which orders they are, the verdict, both pictures."""
    yield from of_order.running_warning(_may_be_running(found))
    before, after = map(order_words.document_words, (found.before, found.after))
    yield Paragraphs((f"Before: {before}", f"Now: {after}"), "document", hang=2)
    change, now = found.assessment, found.after.assessment
    notes = (
        *order_words.not_checked_words(found.not_checked),
        words.verdict_words(found)[1],
        *words.own_words(found),
        *unchecked_weight((*change.unchecked, *now.unchecked)),
        *order_words.suppressed_weight((*change.suppressed, *now.suppressed)),
    )
    beside = order_words.as_far_as_read(found.verdict, found.not_checked)
    yield VerdictBlock(found.verdict, notes, beside=beside)
    old, new = (
        diagram_of(each.behaviour, each.order.leaves) for each in (found.before, found.after)
    )
    yield Pictures((("Before", old), ("Now", new)), "compare")


def _may_be_running(found: ComparedOrders) -> bool:
    """True if a point is open while either order may be running."""
    if words.is_active(found):
        both = (found.assessment, found.after.assessment)
        return any(each.findings or each.unchecked for each in both)
    return order_words.may_be_running(found.after)


def _changes(found: ComparedOrders) -> Iterator[Block]:
    """What is changed, its effect, and what could not be checked."""
    yield list_section(
        "What is changed",
        words.change_words(found),
        without="No setting is changed.",
    )
    yield list_section(
        "Facts of signing", map(words.setting_words, found.signed), without="They are the same."
    )
    yield list_section(
        "What the controller would do otherwise, by ICP", words.behaviour_lines(found)
    )
    before, after = map(words.own_verdict, (found.before, found.after))
    yield list_section(words.BY_ITSELF, (f"Before: {before}", f"Now: {after}"))
    groups = order_words.in_order(found.after.assessment.findings)
    yield from of_order.finding_sections(groups, of_order.finding_block)
    unchecked = (*found.assessment.unchecked, *found.after.assessment.unchecked)
    yield list_section(
        order_words.UNCHECKED,
        unchecked_words(unchecked, found.leaves),
        without="Every rule that was asked of the change and of the second order could be checked.",
    )


def _checked(found: ComparedOrders, at: int) -> str:
    """What was compared, and by what; `at` is in milliseconds since 1970 UTC."""
    rules = counted(found.assessment.rules, "rule")
    return (
        f"{found.before.file} and {found.after.file} as orders, setting by setting, by {rules} on "
        f"changes, and each by {found.after.assessment.rules} rules on orders, under "
        f"“{found.after.policy}”, as of {instant_words(at)}."
        f"{standing_words(found.after)}"
    )
