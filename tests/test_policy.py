"""An order under a site policy: what is suppressed, and what is said of the policy itself."""

from __future__ import annotations

from pathlib import Path

import pytest
from policy_files import LOCAL, RULE, local, refused, suppression

from orderlint.finding import Level, Verdict
from orderlint.rulebook.policy_rules_check import of_policy
from orderlint.verification import Verified, verify

pytestmark = pytest.mark.usefixtures("contradictions_found_once")
EXAMPLES = Path(__file__).parents[1] / "examples"
CLEAN = (EXAMPLES / "clean.yaml").read_bytes()
AT = 1_772_483_400_000  # 2026-03-02T14:30:00-06:00
OVERLAPPING = CLEAN.replace(b"rate: 60 mL/h", b"rate: 200.5 mL/h").replace(
    b"max: 90 mL/h", b"max: 220 mL/h"
)


def under(parts: str, order: bytes = CLEAN, at: int = AT) -> Verified:
    return verify(order, "order.yaml", at, local(parts))


def rules(verified: Verified) -> list[str]:
    return [finding.rule for finding in verified.assessment.findings]


def suppressed(verified: Verified) -> list[str]:
    return [item.finding.rule for item in verified.assessment.suppressed]


def without(line: bytes) -> bytes:
    return b"\n".join(row for row in CLEAN.split(b"\n") if not row.startswith(line))


OTHERS = "child: left out, infant: left out"
NO_PRESCRIBER = without(b"prescriber:")


def test_a_suppressed_finding_is_listed_and_counts_for_nothing():
    plain = verify(NO_PRESCRIBER, "order.yaml", AT)
    found = under(suppression("missing-prescriber"), NO_PRESCRIBER)
    assert (rules(plain), plain.assessment.verdict) == (["missing-prescriber"], Verdict.CLARIFY)
    assert (rules(found), found.assessment.verdict) == ([], Verdict.CLEAR)
    (item,) = found.assessment.suppressed
    assert item.finding == plain.assessment.findings[0]
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
    (shown,) = (
        finding for finding in found.assessment.findings if finding.rule == "level-not-settable"
    )
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
    assert "rate-outside-range" in [item.rule for item in found.assessment.unchecked]


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
    assert found.assessment.suppressed == ()
    assert (found.assessment.findings[1].level, found.assessment.findings[1].ask_whom) == (
        Level.CLARIFY,
        "author",
    )
    assert found.assessment.findings[1].place.file == "unit.yaml"


def test_the_nearest_rule_is_named():
    found = under(suppression("missing-prescribre"))
    assert "the nearest is missing-prescriber." in found.assessment.findings[0].says


def test_a_suppression_runs_until_its_instant():
    until = suppression("missing-prescriber", until="2026-03-02T14:30:00.001-06:00")
    assert rules(under(until, NO_PRESCRIBER)) == []
    assert "suppression-expired" in rules(under(until, NO_PRESCRIBER, AT + 1))


def test_one_that_this_order_does_not_need_is_silent():
    found = under(suppression("missing-prescriber"))
    assert (rules(found), found.assessment.verdict) == ([], Verdict.CLEAR)


def test_one_of_a_rule_that_is_found_in_reading_waits_for_an_order_that_needs_it():
    kept = suppression("offset-not-of-zone")
    assert rules(under(kept)) == []
    shifted = CLEAN.replace(
        b"written: 2026-03-02T14:10:00-06:00", b"written: 2026-03-02T14:10:00-05:00"
    )
    assert shifted != CLEAN
    assert "offset-not-of-zone" in rules(under("", shifted))
    assert "offset-not-of-zone" not in rules(under(kept, shifted))


def test_one_of_a_rule_that_is_not_asked_says_why():
    (found,) = under(suppression("drain-height-outside-scale")).assessment.findings
    assert "it is not asked, as the policy gives no range of the drain's scale" in found.says


def said_of(parts: str, at: int = AT) -> list[str]:
    """What is found of a policy itself."""
    return [fault.rule for fault in of_policy(local(parts), at)]


def test_a_weaker_value_is_named_beside_an_order_and_is_no_finding():
    weak = (
        f"values:\n  window_min: {{value: 4 mmHg, {LOCAL}}}\n  bags: {{list: [700 mL], {LOCAL}}}\n"
    )
    found = under(weak)
    assert found.weaker == ("narrowest treating window", "bags in stock")
    assert rules(found) == ["bag-not-stocked"]
    assert said_of(weak) == ["policy-value-weaker-than-built-in"] * 2


def test_a_pressure_without_a_table_may_differ_by_unit_of_the_display():
    # 4 mmHg, 18 to 22, is under 5 mmHg and over 4; the display of the order shows mmHg.
    narrow = CLEAN.replace(b"treat_above: 8 mmHg", b"treat_above: 18 mmHg")
    narrow = narrow.replace(b"height: 5 mmHg", b"height: 12 mmHg")
    units = "window_min: {{by: display_unit, mmHg: {}, cmH2O: {}, source: {{kind: local-policy}}}}"
    assert "treating-window-narrow" in rules(under("", narrow))
    for mmhg, cmh2o, found in (("4 mmHg", "9 cmH2O", False), ("5 mmHg", "1 cmH2O", True)):
        said = under(f"values:\n  {units.format(mmhg, cmh2o)}\n", narrow)
        assert ("treating-window-narrow" in rules(said)) is found
        assert said.weaker == ("narrowest treating window",)


CHLORHEXIDINE = (
    "chlorhexidine, chlorhexidin, chlorhexidine gluconate, chlorhexidine digluconate, CHG"
)


def test_a_list_of_names_that_is_made_longer_finds_more():
    longer = f"values:\n  chlorhexidine: {{list: [{CHLORHEXIDINE}, demo wash], {LOCAL}}}\n"
    order = CLEAN.replace(b"fluid: lactated Ringer's", b"fluid: saline and demo wash")
    assert rules(verify(order, "order.yaml", AT)) == ["fluid-not-accepted"]
    found = under(longer, order)
    assert rules(found) == ["chlorhexidine-in-bag"]
    assert (found.weaker, said_of(longer)) == ((), [])


def test_a_list_of_names_that_is_made_shorter_is_weaker():
    shorter = f"values:\n  chlorhexidine: {{list: [demo wash], {LOCAL}}}\n"
    assert under(shorter).weaker == ("names of chlorhexidine",)
    assert said_of(shorter) == ["policy-value-weaker-than-built-in"]


def test_a_value_by_group_is_weaker_only_for_orders_that_it_may_bear_on():
    child = CLEAN.replace(b"group: adult", b"group: child")
    unknown = CLEAN.replace(b"group: adult", b"group: grown up")
    assert not under(threshold("22 mmHg", "25 mmHg")).weaker
    assert under(threshold("23 mmHg", "25 mmHg")).weaker == ("ICP threshold for adult",)
    assert under(threshold("22 mmHg", "25 mmHg"), child).weaker
    assert under(threshold("22 mmHg", "25 mmHg"), unknown).weaker
    assert not under(threshold("left out", "20 mmHg"), child).weaker


@pytest.mark.parametrize(
    ("part", "message"),
    [
        ("outflow: §{value: gravty, SOURCE}", "outflow is one of: gravity, pump"),
        (
            "window_min: §{value: -5 mmHg, SOURCE}",
            "-5 mmHg is no value here",
        ),
        ("rate_step: §{value: 0 mL/h, SOURCE}", "0 mL/h is no value"),
        ("check_max: §{value: -1 h, SOURCE}", "-1 h is no value"),
        ("bags: §{list: [500 mL, -5 mL], SOURCE}", "-5 mL is no value"),
        ("bags: §{list: [21 L], SOURCE}", "21 L is no value"),
        (f"csf_rate: {{by: patient.group, adult: §-10 mL/h, {OTHERS}, SOURCE}}", "-10 mL/h is no"),
    ],
)
def test_a_value_that_no_policy_can_mean_is_refused(part, message):
    assert message in refused(f"values:\n  {part.replace('SOURCE', LOCAL)}\n")


def test_levels_below_zero_are_on_the_scale_of_a_range():
    in_mmhg = "mmHg: {lowest: -50 mmHg, highest: 50 mmHg}"
    in_water = "cmH2O: {lowest: -60 cmH2O, highest: 60 cmH2O}"
    ranges = f"{{by: display_unit, {in_mmhg}, {in_water}, {LOCAL}}}"
    assert local(f"values:\n  pause_limit_range: {ranges}\n")


def test_a_finding_on_a_local_value_has_the_source_of_that_value():
    child = CLEAN.replace(b"group: adult", b"group: child")
    found = under(threshold("22 mmHg", "18 mmHg"), child)
    (high,) = [f for f in found.assessment.findings if f.rule == "upper-pause-over-child-threshold"]
    assert high.source == "local policy"
    assert "Front Neurol" in verify(child, "order.yaml", AT).assessment.findings[0].source


def test_an_infant_is_judged_by_the_policy_s_own_threshold():
    infant = CLEAN.replace(b"group: adult", b"group: infant")
    by_group = "by: patient.group, adult: left out, child: left out, infant: 12 mmHg"
    found = under(f"values:\n  icp_threshold: {{{by_group}, {LOCAL}}}\n", infant)
    assert "upper-pause-over-infant-threshold" in rules(found)


def test_an_order_is_not_clear_while_a_policy_hides_what_weighs_most():
    order = CLEAN.replace(b"alarms: on", b"alarms: off")
    found = under(suppression("alarms-off"), order)
    assert (rules(found), suppressed(found), found.assessment.verdict) == (
        [],
        ["alarms-off"],
        Verdict.NOTE,
    )


def test_what_cannot_be_read_cannot_be_suppressed():
    order = CLEAN.replace(b"rate: 60 mL/h", b"rate: 60")
    assert rules(under(suppression("unit-missing"), order))[0] == "unit-missing"


def threshold(adult: str, child: str) -> str:
    """A policy with a threshold for each group of patients."""
    by_group = f"by: patient.group, adult: {adult}, child: {child}, infant: left out"
    return f"values:\n  icp_threshold: {{{by_group}, {LOCAL}}}\n"


def test_a_rule_of_the_policy_is_asked_like_any_other():
    found = under(RULE.replace("8 mmHg", "21 mmHg"))
    assert rules(found) == ["demo"]
    assert found.assessment.findings[0].says == "The band is 2 mmHg to 22 mmHg."
    assert found.policy == "a demo unit"


def test_a_local_value_is_what_is_asked_and_said():
    found = under(f"values:\n  window_min: {{value: 15 mmHg, {LOCAL}}}\n")
    assert rules(found) == ["treating-window-narrow"]
    assert "15 mmHg" in found.assessment.findings[0].expected


def test_with_the_built_in_policy_no_suppression_and_no_word_of_the_policy():
    found = verify(NO_PRESCRIBER, "order.yaml", AT)
    assert found.assessment.suppressed == ()
    assert rules(found) == ["missing-prescriber"]
