"""An order that has ended, or that was due for review, when its settings were seen.

That nobody starts by an order that is over is common practice, no published source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from orderlint.order_reader import read_order
from orderlint.readback import read_back
from orderlint.readback.observed import read_seen
from orderlint.reading import read
from orderlint.report.order.words import verdict_words
from orderlint.report.readback.words import verdict_words as beside_words
from orderlint.rulebook.load import load
from orderlint.units import parse_instant
from orderlint.verification import verify

FOLDER = Path(__file__).parents[2] / "examples"
ORDER = (FOLDER / "clean.yaml").read_text(encoding="utf-8")
SEEN = (FOLDER / "seen-as-ordered.yaml").read_text(encoding="utf-8")
REVIEW_BY = "2026-03-03T15:00:00-06:00"
AT = parse_instant("2026-03-03T15:10:00-06:00")
SEEN_AT = "2026-03-03T15:05:00-06:00"


def found(order: str):
    seen = "\n".join(line for line in SEEN.splitlines() if not line.startswith("seen_at:"))
    document = read(f"{seen}\nseen_at: {SEEN_AT}\n".encode(), "seen.yaml", "settings-seen")
    ordered = read_order(read(order.encode(), "order.yaml", "order"))
    return read_back(ordered, read_seen(document), AT, load("read-back"))


def rules(findings) -> list[str]:
    return [finding.rule for finding in findings]


def with_status(status: str) -> str:
    assert f"review_by: {REVIEW_BY}\n" in ORDER
    return ORDER.replace("status: draft", f"status: {status}")


def test_an_ended_order_is_not_clear_and_the_verdict_says_that_it_is_over():
    verified = verify(with_status("ended").encode(), "order.yaml", AT)
    assert rules(verified.assessment.findings) == ["order-ended"]
    label, sentence = verdict_words(verified)
    assert label.startswith("DO NOT START")
    assert sentence.startswith("This order is marked as ended. ")


def test_beside_settings_seen_an_ended_order_is_said_to_be_over_once():
    result = found(with_status("ended"))
    assert rules(result.assessment.findings) == [
        "read-back-of-ended-order",
        "read-back-past-review",
    ]
    assert (
        rules(result.ordered.assessment.findings) == rules(result.as_set.assessment.findings) == []
    )
    assert result.ordered.assessment.verdict is result.verdict
    assert beside_words(result)[1].startswith("This order is marked as ended. ")


@pytest.mark.parametrize("status", ["active", "draft"])
def test_settings_seen_after_the_review_time_are_asked_about_once(status):
    result = found(with_status(status))
    assert rules(result.assessment.findings) == ["read-back-past-review"]
    assert rules(result.ordered.assessment.findings) == []
    assert result.verdict.value == "clarify"


def test_a_status_or_a_review_time_that_cannot_be_read_is_no_pass():
    unreadable = with_status("over").replace(REVIEW_BY, "tomorrow")
    lacking = {rule.rule: rule.missing for rule in found(unreadable).assessment.unchecked}
    assert lacking["read-back-of-ended-order"] == ("status",)
    assert lacking["read-back-past-review"] == ("review_by",)
