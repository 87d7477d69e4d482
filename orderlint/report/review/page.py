"""Reviewed order sets as a page: each order that breaks a rule drawn beside the presets.

Gathers words and markup for the template. Never a word of its own beside two captions.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from orderlint.behaviour import behaviour_of
from orderlint.report.order import words as order_words
from orderlint.report.order.page import behaviour_values, digest_words, pair_of
from orderlint.report.page import View, page
from orderlint.report.picture.diagram import scene_of
from orderlint.report.review import narrowings, sections, words
from orderlint.report.words import CAUTION, LEVELS, VERDICTS

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Mapping

    from markupsafe import Markup

    from orderlint.finding import Finding
    from orderlint.report.picture.diagram import Scene
    from orderlint.set_review import Broken, Reviewed

PRESETS = "The presets"
NEAREST = "The nearest order that breaks the rule"


class Block(NamedTuple):
    """A finding; where an order breaks a rule, with what is picked for it and both pictures."""

    level: str
    label: str
    heading: str
    says: str
    known: str
    picks: tuple[str, ...]
    verify_says: str
    pictures: tuple[tuple[str, Markup], ...]
    details: tuple[tuple[str, str], ...]


def render(
    reviewed: Iterable[Reviewed],
    known: Iterable[Container[Finding]],
    unread: Iterable[str],
    digests: Mapping[str, str],
    at: int,
) -> str:
    """A page of all sets given; `known` has for each the findings that stood in the baseline.

    `unread` say why other files were not reviewed; `digests` are the SHA-256 of each file's bytes
    by its name; `at` is the instant of checking in milliseconds since 1970 UTC.
    """
    found = list(zip(reviewed, known, strict=True))
    views = [
        View("review.html", set_values(item, known, f"set{number}", digests[item.file], at))
        for number, (item, known) in enumerate(found, 1)
    ]
    said = [f"{VERDICTS[item.assessment.verdict][0]}: {item.file}" for item, _ in found]
    return page("; ".join(said), views, unread)


def set_values(
    reviewed: Reviewed, known: Container[Finding], name: str, digest: str, at: int
) -> dict[str, Any]:
    """All that the template says of one set. `name` tells its pictures' ids from others'."""
    presets = scene_of(reviewed.presets.behaviour, reviewed.presets.order.leaves)
    gone = sections.missing(reviewed)
    blocks = [
        _block(found, asked, reviewed, presets, f"{name}n{number}", asked in known)
        for number, (found, asked) in enumerate(
            zip(reviewed.assessment.findings, narrowings.asked(reviewed), strict=True), 1
        )
        if found not in gone
    ]
    return {
        "running": "",
        "document": words.heading(reviewed.order_set),
        "seen": "",
        "verdict": reviewed.assessment.verdict.value,
        "label": VERDICTS[reviewed.assessment.verdict][0],
        "notes": sections.notes(reviewed),
        **behaviour_values(reviewed.presets, name),
        "as_they_stand": sections.presets(reviewed),
        "missing": [
            f"{LEVELS[level]}: {text}" for level, text in sections.missing_lines(reviewed, known)
        ],
        "missing_level": gone[0].level.value if gone else "",
        "blocks": blocks,
        "covered": words.covered(reviewed),
        "together": (together := narrowings.together(reviewed)),
        "made_together": narrowings.made_together(together[0]),
        "left_open": sections.left_open(reviewed),
        "suppressed": [
            order_words.suppressed_words(item) for item in reviewed.assessment.suppressed
        ],
        "rules": list(sections.rules(reviewed)),
        "not_asked": order_words.not_asked_words(reviewed.assessment.inactive),
        "checked": [sections.checked(reviewed, at), digest_words(digest)],
        "covers": words.COVERS,
        "caution": CAUTION,
        "sections": sections,
    }


def _block(  # noqa: PLR0913, PLR0917 - one block, its finding with and without what is asked
    finding: Finding,
    asked: Finding,
    reviewed: Reviewed,
    presets: Scene | None,
    name: str,
    is_known: bool,
) -> Block:
    broken = sections.broken_by(finding, reviewed)
    return Block(
        finding.level.value,
        LEVELS[finding.level],
        sections.title(finding),
        words.leads(broken) if broken else finding.says,
        sections.KNOWN if is_known else "",
        tuple(words.picks(broken)) if broken else (),
        words.verify_says(broken) if broken else "",
        _pictures(broken, reviewed, presets, name) if broken else (),
        tuple(order_words.named_details(asked)),
    )


def _pictures(
    broken: Broken, reviewed: Reviewed, presets: Scene | None, name: str
) -> tuple[tuple[str, Markup], ...]:
    """The presets and the order, each with its caption, where one looks another than the other."""
    leaves = broken.nearest.leaves
    scene = scene_of(behaviour_of(leaves, reviewed.rulebook.outflow), leaves)
    return () if scene == presets else pair_of((PRESETS, presets), (NEAREST, scene), name)
