"""Writes reviewed order sets as JSON, as schemas/review.schema.json describes it.

Names, order and form of the members. Never wording, never a float.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.order import json as of_order
from orderlint.report.review import narrowings, words
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from orderlint.order_set.model import Slot
    from orderlint.proof.counterexample import Pick, SectionChoice
    from orderlint.proof.narrowing import Narrowing
    from orderlint.proof.prover import Proof
    from orderlint.report.unchecked_files import Unread
    from orderlint.set_review import Broken, Reviewed


FORMAT = 2
"""Since 2 a finding has the id of the rule that is broken, and picks and changes are data."""


def render(reviewed: Iterable[Reviewed], unread: Sequence[Unread], at: int) -> str:
    """All sets in the order given, ending in a line feed; the same input, the same text.

    `unread` are the files that were not reviewed; `at` is the instant of checking in milliseconds
    since 1970 UTC.
    """
    documents = [_document(item, at) for item in reviewed]
    return of_order.documents_text(documents, unread, FORMAT, covers=words.COVERS, caution=CAUTION)


def _document(reviewed: Reviewed, at: int) -> of_order.Member:
    broken = {item.rule.id: item for item in reviewed.broken}
    paper = reviewed.rulebook.standing_orders
    return {
        "file": safe(reviewed.file),
        "id": safe(reviewed.order_set.head.get("id", "")),
        "document": "order-set",
        "verdict": reviewed.assessment.verdict.value,
        **of_order.assessment_members(reviewed.assessment, about_order=True),
        "not_checked": of_order.not_checked_members(reviewed.not_checked),
        "to_fill": [*reviewed.to_fill],
        "orders": {
            "count": str(reviewed.count.orders),
            "is_exact": reviewed.count.is_exact,
            "left_out": [*reviewed.count.left_out],
        },
        "proofs": [_proof(proof, broken.get(proof.rule), reviewed) for proof in reviewed.proofs],
        "together": [
            _narrowing(made, reviewed.order_set.slots[made.path]) for made in reviewed.together
        ],
        "checked": {
            "schema": "order-set, format 1",
            "policy": safe(reviewed.rulebook.policy),
            "rules": len(reviewed.proofs),
            "at": instant_words(at),
            **(of_order.standing_members(paper.paper, paper.leaves.values()) if paper else {}),
        },
    }


def _proof(proof: Proof, broken: Broken | None, reviewed: Reviewed) -> of_order.Member:
    member: dict[str, of_order.Member] = {
        "rule": proof.rule,
        "result": proof.result.value,
        "missing": [*proof.missing],
        "reasons": [safe(reason) for reason in proof.reasons],
        "at_signing": [*proof.at_signing],
    }
    if broken is not None:
        member["picks"] = [
            *(_section(choice) for choice in broken.nearest.sections),
            *(_pick(pick) for pick in broken.nearest.picks),
        ]
        member["order"] = of_order.order_file(broken.nearest.leaves)
        slots = reviewed.order_set.slots
        member["narrowings"] = [_narrowing(made, slots[made.path]) for made in broken.narrowings]
        gating = broken.gating
        member["gating"] = gating and {"path": gating.path, "shown_when": gating.condition}
        member["is_open"] = broken.is_open
        member["is_nearest"] = broken.nearest.is_least
    return member


def _pick(pick: Pick) -> of_order.Member:
    """What is picked, what is preset, and whether that changes the preset."""
    return {
        "path": pick.path,
        "picked": of_order.text_member(pick.leaf),
        "preset": of_order.text_member(pick.preset) if pick.preset else None,
        "has_preset": pick.preset is not None,
        "is_changed": pick.differs_from_preset,
    }


def _section(choice: SectionChoice) -> of_order.Member:
    return {"section": choice.path, "taken": choice.taken, "preset": choice.preset}


def _narrowing(made: Narrowing, slot: Slot) -> of_order.Member:
    """What stays at a setting, and what goes; of a blank without bounds the range that stays."""
    member: dict[str, of_order.Member] = {
        "path": made.path,
        "kept": [of_order.text_member(slot.options[index]) for index in made.kept],
        "gone": [
            of_order.text_member(leaf) for n, leaf in enumerate(slot.options) if n not in made.kept
        ],
        "moves_preset": made.moves_preset,
        "is_vacuous": made.is_vacuous,
    }
    if slot.span is not None:
        ends = narrowings.ends_of(made.path, made.span) if made.span else None
        member["range"] = {"from": ends[0], "to": ends[1]} if ends else None
    return member
