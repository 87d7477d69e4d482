"""From the clean order, changing only what is named: exactly the findings that belong to it.

The cases follow from the order itself; the pressure equivalents are those of conventional mercury,
13.5951 g/mL (1 mmHg = 1.35951 cmH2O; NIST SP 811, Appendix B).
"""

from __future__ import annotations

from pathlib import Path

import pytest

import orderlint
from orderlint.finding import Level, Refused, Verdict
from orderlint.rulebook.load import load
from orderlint.verification import verify

CLEAN = (Path(__file__).resolve().parents[1] / "examples" / "clean.yaml").read_text("utf-8")
AT = 1_772_483_400_000


def changed(*pairs: tuple[str, str]) -> str:
    text = CLEAN
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def check(*pairs: tuple[str, str]):
    return verify(changed(*pairs).encode(), "order.yaml", AT)


def rules(*pairs: tuple[str, str]) -> list[str]:
    return [finding.rule for finding in check(*pairs).assessment.findings]


UPPER_20 = ("upper: 22 mmHg", "upper: 20 mmHg")
POLE = ("scale: mmHg", "scale: cmH2O")
TITRATION = next(line for line in CLEAN.splitlines() if line.startswith("titration")) + "\n"
IRRIGATION = CLEAN[CLEAN.index("irrigation:\n") : CLEAN.index("drainage:\n")]
CASES = {
    "nothing": ([], []),
    "treat-above over the upper pause limit": (
        [UPPER_20, ("treat_above: 8 mmHg", "treat_above: 25 mmHg")],
        ["treat-above-over-upper-pause"],
    ),
    "pause limits swapped": (
        [("lower: 2 mmHg, upper: 22 mmHg", "lower: 22 mmHg, upper: 2 mmHg")],
        ["pause-limits-reversed"],
    ),
    "20 cmH2O is 14.711 mmHg": (
        [UPPER_20, ("treat_above: 8 mmHg", "treat_above: 20 cmH2O")],
        ["level-not-settable-when-converted"],
    ),
    "a drain at 12 cmH2O, above 8 mmHg, which is 10.87608 cmH2O": (
        [("height: 5 mmHg", "height: 12 cmH2O"), POLE],
        ["drain-above-treat-above"],
    ),
    "a drain at 10.8 cmH2O": (
        [("height: 5 mmHg", "height: 10.8 cmH2O"), POLE],
        ["drain-margin-small"],
    ),
    "a drain at 7.7 cmH2O, under the treat-above level by 1 + 0.77 × 110/40": (
        [("height: 5 mmHg", "height: 7.7 cmH2O"), POLE],
        [],
    ),
    "a rate without a unit": ([("rate: 60 mL/h", "rate: 60")], ["unit-missing"]),
    "a rate without a unit, in an order that only drains": (
        [
            ("rate: 60 mL/h", "rate: 60"),
            ("therapy: irrigation", "therapy: drainage"),
            (TITRATION, ""),
        ],
        ["irrigation-settings-without-irrigation", "unit-missing"],
    ),
    "no treat-above": ([("treat_above: 8 mmHg\n", "")], ["missing-treat-above"]),
    "a misspelt key": ([("treat_above:", "treat_abov:")], ["key-not-known"]),
    "an empty value": ([("treat_above: 8 mmHg", "treat_above:")], ["missing-treat-above"]),
    "an empty optional value": (
        [("  bag_change_every: 24 h", "  bag_change_every: ''")],
        ["missing-irrigation-bag-change-every"],
    ),
    "an unknown key with nothing after it": (
        [("treat_above: 8 mmHg", "treat_above: 8 mmHg\ncolour:")],
        ["key-not-known"],
    ),
    "a path for a key": (
        [("treat_above: 8 mmHg", "treat_above: 8 mmHg\npause.upper: 99 mmHg")],
        ["key-not-known"],
    ),
    "a setting written twice, once under a key like it": (
        [
            ("lower: 2 mmHg", "lower: 25 mmHg"),
            ("treat_above: 8", "upper_pause: 22 mmHg\ntreat_above: 8"),
        ],
        ["pause-limits-reversed", "key-not-known"],
    ),
    "a key that has nothing to do with the order": (
        [("display_unit:", "name: demo\ndisplay_unit:")],
        ["key-not-known"],
    ),
    "a treat-above below the lower pause limit": (
        [("treat_above: 8 mmHg", "treat_above: 1 mmHg")],
        ["treat-above-under-lower-pause"],
    ),
    "a drain that opens at the upper pause limit in any case": (
        [
            ("treat_above: 8 mmHg", "treat_above: 23 mmHg"),
            ("therapy: irrigation", "therapy: drainage"),
            (TITRATION, ""),
            (IRRIGATION, ""),
            ("hourly_max: 120 mL/h", "hourly_max: 30 mL/h"),
        ],
        ["treat-above-over-upper-pause-draining"],
    ),
    "a rate for each minute": ([("rate: 60 mL/h", "rate: 1 mL/min")], ["rate-unit-differs"]),
    "a volume without a time is no limit": (
        [("net_in: {above: 15 mL, within: 1 h}", "net_in: {above: 15 mL}")],
        ["missing-notify-net-in"],
    ),
    "a time beyond the calendar of any order": (
        [("starts: 2026", "starts: 9999")],
        ["value-not-conceivable"],
    ),
    "a choice in capitals": ([("therapy: irrigation", "therapy: Irrigation")], []),
    "a list for a section": (
        [("pause: {lower: 2 mmHg, upper: 22 mmHg}", "pause: [2 mmHg, 22 mmHg]")],
        ["kind-not-expected"],
    ),
    "a section for a leaf": ([("rate: 60 mL/h", "rate: {of: 60 mL/h}")], ["kind-not-expected"]),
    "a time without an offset": (
        [("starts: 2026-03-02T15:00:00-06:00", "starts: 2026-03-02T15:00:00")],
        ["kind-not-expected"],
    ),
    "a therapy not known": (
        [("therapy: irrigation", "therapy: irrigate")],
        ["choice-not-known"],
    ),
    "a finer number than can be kept": (
        [("treat_above: 8 mmHg", "treat_above: 8.001 mmHg")],
        ["number-too-fine"],
    ),
    "a level in the other unit that the display can hold": (
        [("lower: 2 mmHg", "lower: 2.71902 cmH2O")],
        ["display-unit-differs"],
    ),
    "a section that is empty": (
        [("during_pause: {tell_within: 15 min}", "during_pause: {}")],
        ["missing-during-pause-tell-within"],
    ),
    "a misspelt section": (
        [("during_pause: {tell_within: 15 min}", "during_pauze: {tell_within: 15 min}")],
        ["key-not-known"],
    ),
    "an additive that is a text": (
        [("additive: none", "additive: demo antimicrobial")],
        ["choice-not-known"],
    ),
    "no additive, under a misspelt key": (
        [("  additive: none", "  additve: none")],
        ["key-not-known"],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_exactly_these_findings(name):
    pairs, expected = CASES[name]
    assert rules(*pairs) == expected


def test_what_a_missing_treat_above_leaves_unchecked():
    found = check(("treat_above: 8 mmHg\n", ""))
    assert found.assessment.verdict is Verdict.DO_NOT_START
    unchecked = {item.rule: item.missing for item in found.assessment.unchecked}
    assert unchecked["treat-above-over-upper-pause"] == ("treat_above",)
    assert unchecked["drain-above-treat-above"] == ("treat_above",)
    assert set(unchecked.values()) == {("treat_above",)}
    assert found.behaviour.missing == ("treat_above",)


def test_an_unchecked_rule_is_never_a_pass():
    found = check(("upper: 22 mmHg", "upper: '22'"))
    assert "pause-limits-reversed" in {item.rule for item in found.assessment.unchecked}


def test_a_finding_names_every_setting_involved_with_its_place():
    (finding,) = check(
        UPPER_20, ("treat_above: 8 mmHg", "treat_above: 25 mmHg")
    ).assessment.findings
    lines = CLEAN.splitlines()
    assert lines[finding.place.line - 1].startswith("treat_above")
    assert lines[finding.place.line - 1][finding.place.column - 1 :].startswith("8 mmHg")
    (other,) = finding.also
    assert (other.path, other.name, other.written) == (
        "pause.upper",
        "Upper pause limit",
        "20 mmHg",
    )
    assert other.place.line == finding.place.line - 1


def test_a_rule_broken_at_several_places_is_one_finding():
    found = check(("lower: 2 mmHg, upper: 22 mmHg", "lower: 2.5 mmHg, upper: 21.5 mmHg"))
    (finding,) = found.assessment.findings
    assert finding.rule == "level-not-settable"
    assert finding.path == "pause.lower"
    assert {item.path for item in finding.also} == {"display_unit", "pause.upper"}
    assert "lower pause limit, 2.5 mmHg" in finding.says
    assert "upper pause limit, 21.5 mmHg" in finding.says


def test_a_finding_covers_another_only_at_a_setting_they_share():
    # Treat-above cannot be held once converted, which covers that its unit differs; the notify
    # level's unit differs as well, and no finding but this one speaks of it.
    found = rules(
        ("treat_above: 8 mmHg", "treat_above: 12 cmH2O"),
        ("icp_above: 20 mmHg", "icp_above: 27.1902 cmH2O"),
    )
    assert found == ["level-not-settable-when-converted", "display-unit-differs"]


def test_every_rule_that_compares_with_a_pause_limit_is_covered_when_they_are_reversed():
    # Not whether a limit is written, in what unit, how, or whether the controller can hold it.
    apart = {"capability", "complete", "notation", "units"}
    rulebook = load("all")
    reading = {
        rule.id
        for rule in rulebook.order_rules
        if rule.family not in apart
        and any({"pause.lower", "pause.upper"} & set(i.paths) for i in rule.instances)
    }
    assert reading - {"pause-limits-reversed"} <= rulebook.rules["pause-limits-reversed"].covers


def test_the_time_of_checking_is_no_setting_of_the_order():
    draft, active = ("status: draft", "status: draft"), ("status: draft", "status: active")
    late = AT + 7 * 86_400_000
    assert verify(changed(draft).encode(), "order.yaml", late).assessment.findings == ()
    (finding,) = verify(changed(active).encode(), "order.yaml", late).assessment.findings
    assert (finding.rule, finding.path) == ("order-past-review", "review_by")
    assert finding.also == ()


def test_a_rate_that_cannot_be_set_speaks_for_all_that_hangs_on_it():
    assert rules(("rate: 60 mL/h", "rate: 200 mL/h")) == ["rate-outside-range"]


def test_a_long_text_is_quoted_short():
    (finding,) = check(
        ("therapy: irrigation", f"therapy: {'irrigation ' * 40}")
    ).assessment.findings
    assert len(finding.written) <= 80
    assert len(finding.says) < 300


@pytest.mark.parametrize("kind", ["order-set", "rules", "prescription"])
def test_another_kind_of_document_is_refused(kind):
    with pytest.raises(Refused) as refused:
        check(("document: order", f"document: {kind}"))
    assert str(refused.value.place) == "order.yaml:2:11"


def test_what_is_set_leads_before_the_paper_it_stands_on():
    """A pharmacist reads from the top: a revision number is no reason to miss a drain."""
    wrong = [("revision: 1", "revision: 1.0"), ("70 kg", "70.0 kg")]
    found = check(*wrong, ("height: 5 mmHg", "height: 9.0 mmHg")).assessment.findings
    assert [item.path for item in found if item.level is Level.DO_NOT_START] == [
        "drainage.height",
        "revision",
    ]
    zero = next(item for item in found if item.rule == "trailing-zero")
    assert [zero.path, *(item.path for item in zero.also)] == ["drainage.height", "patient.weight"]


@pytest.mark.parametrize(
    ("group", "named"), [("adult", set()), ("child", {"child"}), ("infant", {"infant"})]
)
def test_what_is_not_asked_of_other_patients_is_not_listed(group, named):
    found = check(("group: adult", f"group: {group}"))
    said = {
        word
        for item in found.assessment.inactive
        for word in ("child", "infant")
        if word in item.reason
    }
    assert said == named


def test_of_a_patient_whose_group_is_not_known_all_is_listed_that_may_not_be_asked():
    found = check(("group: adult ", "group:       "))
    reasons = " ".join(item.reason for item in found.assessment.inactive)
    assert "for child" in reasons
    assert "for infant" in reasons


def test_a_level_just_over_a_limit_is_not_rounded_to_the_limit():
    # 29.91 cmH2O is 22.00057 mmHg, and the limit is 22 mmHg.
    found = {f.rule: f for f in check(("upper: 22 mmHg", "upper: 29.91 cmH2O")).assessment.findings}
    over = found["upper-pause-over-adult-threshold"]
    assert "29.91 cmH2O (about 22.001 mmHg)" in over.says
    assert "about 22 mmHg" not in " ".join(f"{f.says} {f.ask}" for f in found.values())


def test_a_missing_setting_leads_whatever_says_that_it_is_due():
    text = "document: order\nformat: 1\ntherapy: monitoring\nindication: IVH\n"
    findings = orderlint.verify(text).findings
    leads = {each.rule: each.path for each in findings if each.rule.startswith("missing-targets")}
    assert leads == {
        "missing-targets-map": "targets.map",
        "missing-targets-cpp-min": "targets.cpp_min",
    }
