"""Two orders, or two order sets, beside each other as a page, with pictures side by side.

Gathers words and markup for the templates. Never a word of its own beside captions.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from orderlint.behaviour import behaviour_of
from orderlint.order_set.presets import presets
from orderlint.report.compare import sections, set_sections, words
from orderlint.report.compare.set_words import COVERS
from orderlint.report.order import words as order_words
from orderlint.report.order.page import SIGNATURES, digest_words, groups, pair_of
from orderlint.report.page import View, page
from orderlint.report.picture.diagram import scene_of
from orderlint.report.words import CAUTION, LEVELS, VERDICTS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from markupsafe import Markup

    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets
    from orderlint.finding import Finding
    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet
    from orderlint.proof import DifferingOrder
    from orderlint.report.compare.set_sections import OneSided
    from orderlint.report.picture.diagram import Scene

BEFORE, NOW = "Before", "Now"
PRESETS = "The presets"
THE_ORDER = "The order"


class Block(NamedTuple):
    """A finding on a later set; where a new order breaks a rule, that order with its pictures."""

    level: str
    label: str
    heading: str
    says: str
    order: OneSided | None
    pictures: tuple[tuple[str, Markup], ...]
    details: tuple[tuple[str, str], ...]


def render_orders(found: ComparedOrders, digests: tuple[str, str], at: int) -> str:
    """The page of two orders.

    `digests` are the SHA-256 of the bytes of the first and the second; `at` is the instant of
    checking, in milliseconds since 1970 UTC.
    """
    label, _ = words.verdict_words(found)
    document, seen = sections.documents(found)
    scenes = (scene_of(part.behaviour, part.order.leaves) for part in (found.before, found.after))
    before, after = scenes
    values: dict[str, Any] = {
        "running": sections.running(found),
        "document": document,
        "seen": seen,
        "verdict": found.verdict.value,
        "label": label,
        "notes": sections.notes(found),
        "pictures": pair_of((BEFORE, before), (NOW, after), "compare"),
        "findings": list(groups(found.assessment.findings)),
        "parts": list(sections.parts(found)),
        "not_asked": list(sections.not_asked(found)),
        "checked": sections.checked(found, at),
        **_closing(found, digests),
        "signatures": SIGNATURES,
    }
    return page(f"{label}: {found.after.file}", [View("compare.html", values)])


def render_sets(found: ComparedSets, digests: tuple[str, str], at: int) -> str:
    """The page of two order sets, whose bytes have these digests; `at` is as of render_orders."""
    label = VERDICTS[found.assessment.verdict][0]
    document, seen = set_sections.documents(found)
    relation, said = set_sections.relation(found)
    gone, new = set_sections.gone_and_new(found)
    outflow = found.rulebook.outflow
    values: dict[str, Any] = {
        "running": "",
        "document": document,
        "seen": seen,
        "relation": relation,
        "said": said,
        "verdict": found.assessment.verdict.value,
        "label": label,
        "notes": set_sections.notes(found),
        "nearest": set_sections.NEAREST,
        "blocks": [
            _block(finding, found, f"new{number}")
            for number, finding in enumerate(found.assessment.findings, 1)
        ],
        "orders": [
            (gone, _drawn(gone.example, found.before, outflow, "gone")),
            (new, _drawn(new.example, found.after, outflow, "new")),
        ],
        "parts": list(set_sections.parts(found)),
        "checked": set_sections.checked(found, at),
        "covers": COVERS,
        **_closing(found, digests),
    }
    return page(f"{relation}: {found.after.file}", [View("compare-sets.html", values)])


def _closing(found: ComparedOrders | ComparedSets, digests: tuple[str, str]) -> Mapping[str, Any]:
    return {
        "suppressed": [order_words.suppressed_words(item) for item in found.assessment.suppressed],
        "digests": tuple(
            f"{name}: {digest_words(digest)}"
            for name, digest in zip((found.before.file, found.after.file), digests, strict=True)
        ),
        "headings": order_words,
        "caution": CAUTION,
    }


def _block(finding: Finding, found: ComparedSets, name: str) -> Block:
    order = set_sections.shown_by(finding, found)
    outflow = found.rulebook.outflow
    return Block(
        finding.level.value,
        LEVELS[finding.level],
        set_sections.title(finding),
        finding.says,
        order,
        _drawn(order.example, found.after, outflow, name) if order else (),
        tuple(order_words.named_details(finding)),
    )


def _drawn(
    example: DifferingOrder | None, order_set: OrderSet, outflow: str | None, name: str
) -> tuple[tuple[str, Markup], ...]:
    """An order beside the presets of its set, where it looks another than they."""
    if example is None:
        return ()
    plain, made = (
        _scene(leaves, outflow) for leaves in (presets(order_set).order.leaves, example.leaves)
    )
    return () if plain == made else pair_of((PRESETS, plain), (THE_ORDER, made), name)


def _scene(leaves: Mapping[str, Leaf], outflow: str | None) -> Scene | None:
    return scene_of(behaviour_of(leaves, outflow), leaves)
