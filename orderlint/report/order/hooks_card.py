"""Makes cards of CDS Hooks 2.0: one for each order that was checked, or that could not be.

Whole sentences, in the Markdown that clients show. Never a suggestion or an action that would
change an order, and never a word that is cut.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from orderlint.finding import Finding, Verdict
from orderlint.report.markdown_escape import visibly
from orderlint.report.order import words
from orderlint.report.visible_text import safe
from orderlint.report.words import BRIEF_CAUTION, LABELS, LEVELS, counted
from orderlint.rulebook.rule import MISSING_FAMILY
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.verification import Verified

SHORTER_THAN = 140
"""Characters that a summary may not reach, by the specification."""
NOT_CHECKED = "NOT CHECKED"
MOST_SAID = 600
"""Characters of what is found, and of what is asked, beyond which only the page has more."""
MORE = "The page has more of this."
MOST_TEXTS, LONGEST_TEXT = 3, 400
"""So many texts that are not checked stand on a card, and of so many characters each."""
SOURCE = {"label": "orderlint"}
LINK = "All findings on this order"
DRAFTED = (
    "The order is still being written: details that are missing may yet come. It is checked as it "
    "stands."
)
UNREAD = "An order here has settings of ours and could not be read; nothing is known of it."
FAULT = "The tool itself failed, which is a fault of the tool and no finding about the order."
INDICATORS = {
    Verdict.DO_NOT_START: "critical",
    Verdict.CLARIFY: "warning",
    Verdict.INCOMPLETE: "warning",
    Verdict.NOTE: "info",
    Verdict.CLEAR: "info",
}
"""How a client is to weigh a card. What is not known to be sound is never mere information."""

OVERRIDES: tuple[tuple[str, str], ...] = (
    ("1", "Therapy Appropriate"),
    ("2", "Assessed Patient"),
    ("5", "Consulted Prescriber"),
    ("8", "Other Action Taken"),
    ("9", "Instituted Ongoing Monitoring Program"),
)
OVERRIDE_SYSTEM = "http://terminology.hl7.org/CodeSystem/v3-ActCode"
"""The code system of OVERRIDES: below ActDetectedIssueManagementCode, which FHIR R4 names as the
codes for how a detected issue was dealt with (value set detectedissue-mitigation-action, 4.0.1).
CDS Hooks 2.0 asks for a code, its system and its display, and has no system of its own."""

_SENTENCE_END = re.compile(r"(?<=[.?!])\s+")


class Card(NamedTuple):
    """What distinguishes a card: the id that feedback names, and where its link leads.

    `number` is that of the order among the `of` orders that the request holds.
    """

    uuid: str
    link: str
    number: int = 1
    of: int = 1


def card(verified: Verified, about: Card, *, is_drafted: bool = False) -> dict[str, Any]:
    """The card on a checked order; `is_drafted` if its prescriber is still at it."""
    found = verified.assessment
    detail = "\n\n".join(_detail(verified, is_drafted=is_drafted))
    made = _card(about, _summary(verified, about), INDICATORS[found.verdict], detail)
    reasons = [{"code": c, "system": OVERRIDE_SYSTEM, "display": said} for c, said in OVERRIDES]
    return {**made, "overrideReasons": reasons} if found.findings else made


def card_of_unread(why: str, about: Card) -> dict[str, Any]:
    """The card on an order that could not be read, and why; `why` is a sentence."""
    head = f"{_which(about)}{NOT_CHECKED}"
    summary = _fitting((f"{head}: {safe(why)}", f"{head}: {UNREAD}", head))
    detail = "\n\n".join(map(visibly, (UNREAD, why, BRIEF_CAUTION)))
    return _card(about, summary, "warning", detail)


def _card(about: Card, summary: str, indicator: str, detail: str) -> dict[str, Any]:
    return {
        "uuid": about.uuid,
        "summary": summary,
        "detail": detail,
        "indicator": indicator,
        "source": SOURCE,
        "links": [{"label": LINK, "url": about.link, "type": "absolute"}],
    }


def _which(about: Card) -> str:
    return f"Order {about.number} of {about.of}: " if about.of > 1 else ""


def _summary(verified: Verified, about: Card) -> str:
    """The verdict with as much of the first finding as stays whole."""
    which, verdict = _which(about), verified.assessment.verdict
    label = f"{which}{words.verdict_words(verified)[0]}"
    parts = counted(len(verified.not_checked), "part")
    plain = f"{which}{LABELS[verdict]}" + (f"; {parts} not checked" if verified.not_checked else "")
    first = next(iter(verified.assessment.findings), None)
    says = first.says if first else words.verdict_words(verified)[1]
    said = [_SENTENCE_END.split(says, maxsplit=1)[0], *([first.name] if first else [])]
    heads = [f"{head}: {safe(each)}" for each in said for head in (label, plain)]
    return _fitting((*heads, label, plain))


def _fitting(texts: Iterable[str]) -> str:
    """The first text that a summary has room for; the last one always fits."""
    given = [*texts]
    return next((text for text in given if len(text) < SHORTER_THAN), given[-1])


def _detail(verified: Verified, *, is_drafted: bool) -> Iterator[str]:
    """The paragraphs of a card: the order, what was found first, what to ask, what is open."""
    groups = [*words.in_order(verified.assessment.findings)]
    sentence = words.verdict_words(verified)[1]
    yield visibly(f"{_order_words(verified)} {sentence}")
    if is_drafted:
        yield visibly(DRAFTED)
    for group in groups[:1]:
        yield from _first(group)
    more = sum(map(len, groups[1:]))
    if more:
        yield f"{counted(more, 'more finding')} on the page."
    texts = [*words.not_checked_words(verified.not_checked)]
    yield from _few(texts)
    said = {sentence, *texts}
    yield from (visibly(note) for note in words.verdict_notes(verified) if note not in said)
    yield visibly(BRIEF_CAUTION)


def _few(texts: Sequence[str]) -> Iterator[str]:
    """The texts that are not checked, as far as a card has room for whole ones."""
    short = [text for text in texts if len(text) <= LONGEST_TEXT][:MOST_TEXTS]
    yield from map(visibly, short)
    more = len(texts) - len(short)
    if more:
        noun = "more text" if short else "text"
        yield f"{counted(more, noun)} on the page, not checked."


def _order_words(verified: Verified) -> str:
    """Which order it is."""
    leaves = verified.order.leaves
    named = f"Order {quote(leaves['id'].text)}" if leaves["id"].given else "Order without an id"
    revision = leaves["revision"]
    return f"{named}, revision {quote(revision.text)}." if revision.given else f"{named}."


def _first(group: Sequence[Finding]) -> Iterator[str]:
    """What is found and asked; of missing settings all at once."""
    finding = group[0]
    if finding.family == MISSING_FAMILY:
        yield visibly(words.missing_heading(group))
        parts = words.missing_words(group)
        yield "\n".join(f"- {visibly(f'{LEVELS[each.level]}: {each.text}')}" for each in parts)
        return
    yield f"**{visibly(_sentences(finding.says, finding.name))}**"
    if finding.ask:
        yield visibly(f"Ask the {finding.ask_whom}: {_sentences(finding.ask, finding.name)}")


def _sentences(text: str, name: str) -> str:
    """As many whole sentences as there is room for, and that there are more; `name` if for none."""
    said: list[str] = []
    for sentence in _SENTENCE_END.split(text):
        if sum(map(len, said)) + len(sentence) > MOST_SAID:
            return " ".join([*said, MORE] if said else [f"{name}.", MORE])
        said.append(sentence)
    return " ".join(said)
