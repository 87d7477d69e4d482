"""An order under a site policy: what is suppressed, and what is said of the policy itself."""

from __future__ import annotations

from pathlib import Path

import pytest
from policy_files import LOCAL, RULE, local, suppression

from orderlint.finding import Level, Verdict
from orderlint.verify import Verified, verify

EXAMPLES = Path(__file__).parents[1] / "examples"
CLEAN = (EXAMPLES / "clean.yaml").read_bytes()
AT = 1_772_483_400_000  # 2026-03-02T14:30:00-06:00
OVERLAPPING = CLEAN.replace(b"rate: 60 mL/h", b"rate: 200.5 mL/h").replace(
    b"max: 90 mL/h", b"max: 220 mL/h"
)


def under(parts: str, order: bytes = CLEAN, at: int = AT) -> Verified:
    return verify(order, "order.yaml", at, local(parts))


def rules(verified: Verified) -> list[str]:
    return [finding.rule for finding in verified.findings]


def suppressed(verified: Verified) -> list[str]:
    return [item.finding.rule for item in verified.suppressed]


def without(line: bytes) -> bytes:
    return b"\n".join(row for row in CLEAN.split(b"\n") if not row.startswith(line))


NO_PRESCRIBER = without(b"prescriber:")


def test_a_suppressed_finding_is_listed_and_counts_for_nothing():
    plain = verify(NO_PRESCRIBER, "order.yaml", AT)
    found = under(suppression("missing-prescriber"), NO_PRESCRIBER)
    assert (rules(plain), plain.verdict) == (["missing-prescriber"], Verdict.CLARIFY)
    assert (rules(found), found.verdict) == ([], Verdict.CLEAR)
    (item,) = found.suppressed
    assert item.finding == plain.findings[0]
    assert (item.reason, item.approved_by) == ("invented", "a committee")
    assert (item.until, str(item.place)) == ("2030-01-01T00:00:00Z", "unit.yaml:5:12")


@pytest.mark.parametrize(
    ("path", "is_suppressed"),
    [("pause.lower", True), ("pause", True), (None, True), ("treat_above", False)],
)
def test_a_suppression_holds_at_its_setting_alone(path, is_suppressed):
    order = CLEAN.replace(b"lower: 2 mmHg", b"lower: 2.0 mmHg")
    found = under(suppression("trailing-zero", path=path), order)
    shown = [suppressed(found), rules(found)]
    assert shown == [["trailing-zero"], []][:: 1 if is_suppressed else -1]


def test_a_suppression_of_a_section_holds_within_it():
    order = without(b"position:")
    assert suppressed(under(suppression("missing-position-head-up", path="position"), order))


def test_one_setting_of_several_is_suppressed():
    order = CLEAN.replace(b"lower: 2 mmHg", b"lower: 2.5 mmHg")
    order = order.replace(b"treat_above: 8 mmHg", b"treat_above: 8.5 mmHg")
    found = under(suppression("level-not-settable", path="pause.lower"), order)
    assert suppressed(found) == ["level-not-settable"]
    (shown,) = (finding for finding in found.findings if finding.rule == "level-not-settable")
    assert [shown.path, *(m.path for m in shown.also)] == ["treat_above", "display_unit"]


def test_a_suppressed_finding_covers_nothing():
    assert rules(verify(OVERLAPPING, "order.yaml", AT))[:1] == ["rate-outside-range"]
    assert "rate-not-settable" not in rules(verify(OVERLAPPING, "order.yaml", AT))
    found = under(suppression("rate-outside-range"), OVERLAPPING)
    assert suppressed(found) == ["rate-outside-range"]
    assert "rate-not-settable" in rules(found)


def test_a_rule_that_could_not_be_checked_is_still_open():
    order = CLEAN.replace(b"rate: 60 mL/h", b"rate: 60")
    found = under(suppression("rate-outside-range"), order)
    assert "rate-outside-range" in [item.rule for item in found.unchecked]


@pytest.mark.parametrize(
    ("parts", "rule"),
    [
        (suppression("pause-limits-reversed"), "suppression-not-allowed"),
        (suppression("missing-therapy"), "suppression-not-allowed"),
        (suppression("suppression-unmatched"), "suppression-not-allowed"),
        (suppression("missing-prescribre"), "suppression-rule-unknown"),
        (suppression("missing-prescriber", path="indication"), "suppression-unmatched"),
        (suppression("drain-height-outside-scale"), "suppression-unmatched"),
        (suppression("missing-prescriber", reason=None), "suppression-reason-missing"),
        (suppression("missing-prescriber", approved_by='""'), "suppression-reason-missing"),
        (suppression("missing-prescriber", until="2026-03-02T20:30:00Z"), "suppression-expired"),
    ],
)
def test_a_suppression_that_may_not_be_applied_is_said_and_not_applied(parts, rule):
    found = under(parts, NO_PRESCRIBER)
    assert rules(found) == ["missing-prescriber", rule]
    assert found.suppressed == ()
    assert (found.findings[1].level, found.findings[1].ask_whom) == (Level.CLARIFY, "author")
    assert found.findings[1].place.file == "unit.yaml"


def test_the_nearest_rule_is_named():
    found = under(suppression("missing-prescribre"))
    assert "the nearest is missing-prescriber." in found.findings[0].says


def test_a_suppression_runs_until_its_instant():
    until = suppression("missing-prescriber", until="2026-03-02T14:30:00.001-06:00")
    assert rules(under(until, NO_PRESCRIBER)) == []
    assert "suppression-expired" in rules(under(until, NO_PRESCRIBER, AT + 1))


def test_one_that_this_order_does_not_need_is_silent():
    found = under(suppression("missing-prescriber"))
    assert (rules(found), found.verdict) == ([], Verdict.CLEAR)


def test_one_of_a_rule_that_is_not_asked_says_why():
    (found,) = under(suppression("drain-height-outside-scale")).findings
    assert "it is not asked, as the policy gives no drain_scale_range" in found.says


def test_a_weaker_value_is_shown_beside_the_built_in_one():
    found = under(f"values:\n  window_min: {{value: 4 mmHg, {LOCAL}}}\n")
    (note,) = found.findings
    assert note.rule == "policy-value-weaker-than-built-in"
    assert "4 mmHg" in note.says
    assert "5 mmHg" in note.says


def test_several_weaker_values_are_one_finding_with_all_their_places():
    weaker = f"window_min: {{value: 4 mmHg, {LOCAL}}}\n  bags: {{list: [700 mL], {LOCAL}}}"
    (note, *_) = [f for f in under(f"values:\n  {weaker}\n").findings if f.level is Level.NOTE][-1:]
    assert note.says.count("Without this policy") == 2
    assert [mention.path for mention in note.also] == ["site.bags"]


def test_a_value_by_group_is_weaker_only_for_orders_that_it_may_bear_on():
    child = CLEAN.replace(b"group: adult", b"group: child")
    unknown = CLEAN.replace(b"group: adult", b"group: grown up")
    weak = "policy-value-weaker-than-built-in"
    assert weak not in rules(under(threshold("22 mmHg", "25 mmHg")))
    assert weak in rules(under(threshold("23 mmHg", "25 mmHg")))
    assert weak in rules(under(threshold("22 mmHg", "25 mmHg"), child))
    assert weak in rules(under(threshold("22 mmHg", "25 mmHg"), unknown))
    assert weak not in rules(under(threshold("left out", "20 mmHg"), child))


def threshold(adult: str, child: str) -> str:
    """A policy with a threshold for each group of patients."""
    by_group = f"by: patient.group, adult: {adult}, child: {child}, infant: left out"
    return f"values:\n  icp_threshold: {{{by_group}, {LOCAL}}}\n"


def test_a_rule_of_the_policy_is_asked_like_any_other():
    found = under(RULE.replace("8 mmHg", "21 mmHg"))
    assert rules(found) == ["demo"]
    assert found.findings[0].says == "The band is 2 mmHg to 22 mmHg."
    assert found.policy == "a demo unit"


def test_a_local_value_is_what_is_asked_and_said():
    found = under(f"values:\n  window_min: {{value: 15 mmHg, {LOCAL}}}\n")
    assert rules(found) == ["treating-window-narrow"]
    assert "15 mmHg" in found.findings[0].expected


def test_with_the_built_in_policy_no_suppression_and_no_word_of_the_policy():
    found = verify(NO_PRESCRIBER, "order.yaml", AT)
    assert found.suppressed == ()
    assert rules(found) == ["missing-prescriber"]
