"""Two order sets beside each other: what is offered otherwise, and what new orders break."""

from __future__ import annotations

import pytest
from order_sets import AT, HEAD, example, order_set, reading, review, whole
from policy_files import local

from orderlint.api.policies import load_policy
from orderlint.comparison.option_changes import option_changes
from orderlint.comparison.sets import compare_sets
from orderlint.finding import Level, Verdict
from orderlint.order import Order
from orderlint.proof.prover import Decision
from orderlint.report.compare.blocks import set_blocks
from orderlint.report.compare.set_words import BEFORE
from orderlint.report.text import render_blocks
from orderlint.rulebook.load import load
from orderlint.verification import verify_order

SOUND = "set-irrigation-adult.yaml"


def compared(before, after, *paths):
    """Two sets, by the rules that read one of some settings where these alone are looked at."""
    return compare_sets(before, after, AT, reading(*paths) if paths else load("order-set"))


def of_one(rulebook, name):
    """A rulebook with one rule: the others are proved for nothing where one alone is looked at."""
    return rulebook._replace(rules={name: rulebook.rules[name]})


def text_of(name=SOUND, *changes):
    from order_sets import EXAMPLES  # noqa: PLC0415

    text = (EXAMPLES / name).read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def revised(*changes):
    return whole(text_of(SOUND, *changes), "after.yaml")


UPPER = "upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg], preset: 22 mmHg}"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "relation", "broken"),
    [
        (UPPER, "equal", []),
        ("upper: {choose: [21 mmHg, 22 mmHg], preset: 22 mmHg}", "stricter", []),
        (
            "upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg, 25 mmHg], preset: 22 mmHg}",
            "looser",
            ["upper-pause-over-adult-threshold"],
        ),
        ("upper: {choose: [19.5 mmHg, 22 mmHg], preset: 22 mmHg}", "both", ["level-not-settable"]),
        ("upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg], preset: 20 mmHg}", "equal", []),
    ],
)
def test_a_set_and_its_revision(change, relation, broken):
    found = compared(example(SOUND), revised((UPPER, change)), "pause.upper")
    assert found.comparison.relation == relation
    rules = [item.broken.rule for item in found.newly_broken]
    assert [rule for rule in rules if rule in broken] == broken
    assert bool(rules) == bool(broken)
    for item in found.newly_broken:
        assert item.broken.before.result is Decision.PROVED
    again = compared(revised((UPPER, change)), example(SOUND), "pause.upper")
    turned = {"stricter": "looser", "looser": "stricter"}
    assert again.comparison.relation == turned.get(relation, relation)


ADDITIVE = "additive: none"
DRUG = "additive: {{name: {}, concentration: 1 mg/L, class: other}}"


@pytest.mark.parametrize(
    ("before", "after", "relation", "broken"),
    [
        ("vancomycin", "Vancomycin", "equal", False),
        ("vancomycin", "chlorhexidine", "both", True),
        ("chlorhexidine", "vancomycin", "both", False),
        ("{choose: [vancomycin, gentamicin]}", "vancomycin", "stricter", False),
        ("vancomycin", "{choose: [vancomycin, CHG]}", "looser", True),
        # Whatever is written in a blank is left to signing.
        ("vancomycin", "{blank: required, label: Drug}", "looser", False),
        ("{blank: required, label: Drug}", "chlorhexidine", "stricter", False),
        ("{blank: required, label: Drug}", "{blank: required, label: Drug}", "equal", False),
    ],
)
def test_another_drug_is_another_order(before, after, relation, broken):
    earlier, later = (revised((ADDITIVE, DRUG.format(name))) for name in (before, after))
    found = compared(earlier, later, "irrigation.additive.name", "irrigation.fluid")
    assert found.comparison.relation == relation
    rules = {item.broken.rule for item in found.newly_broken}
    assert ("chlorhexidine-in-bag" in rules) is broken


@pytest.mark.slow
def test_each_new_order_that_breaks_a_rule_has_the_finding_that_verify_gives():
    found = compared(example(SOUND), example("set-irrigation-corners.yaml"))
    assert len(found.newly_broken) >= 5
    for item in found.newly_broken:
        order = Order(
            "set-irrigation-corners.yaml", item.broken.example.leaves, (), found.after.places
        )
        verified = verify_order(order, AT, load("order-set"))
        assert item.order_finding in verified.assessment.findings
        assert item.set_finding is not None
        assert item.order_finding.says in item.set_finding.says


def test_what_is_offered_otherwise():
    changes = (
        (UPPER, "upper: {choose: [20 mmHg, 22 mmHg, 23 mmHg], preset: 20 mmHg}"),
        ("stop_when: drained", "stop_when: once drained"),
        (
            "access: {choose: [right ventricle, left ventricle], preset: right ventricle}",
            "access: subdural",
        ),
        ("    goal: clearing", "    shown_when: given(treat_above)\n    goal: clearing"),
    )
    found = {offer.path: offer for offer in option_changes(example(SOUND), revised(*changes))}
    upper = found["pause.upper"]
    assert [leaf.text for leaf in upper.new] == ["23 mmHg"]
    assert [leaf.text for leaf in upper.gone] == ["21 mmHg"]
    assert [leaf.text for leaf in upper.presets] == ["22 mmHg", "20 mmHg"]
    assert found["stop_when"].reworded
    assert (found["stop_when"].new, found["stop_when"].gone) == ((), ())
    assert found["access"].disjoint
    assert found["titration.goal"].shown
    assert {*found} == {
        *("pause.upper", "stop_when", "access"),
        *(f"titration.{key}" for key in ("goal", "step", "every", "max")),
    }


def test_another_word_in_a_condition_is_another_condition():
    shown = "    shown_when: given(treat_above) {} given(access)\n    goal: clearing"
    first, second = (revised(("    goal: clearing", shown.format(w))) for w in ("and", "or"))
    assert {offer.path for offer in option_changes(first, second) if offer.shown} == {
        f"titration.{key}" for key in ("goal", "step", "every", "max")
    }
    assert list(option_changes(first, first)) == []


def test_another_limit_in_a_condition_is_another_condition():
    shown = "    shown_when: treat_above < high\n    limits: {{high: {}}}\n    goal: clearing"
    first, second = (revised(("    goal: clearing", shown.format(n))) for n in ("9 mmHg", "8 mmHg"))
    assert {offer.path for offer in option_changes(first, second) if offer.shown} == {
        f"titration.{key}" for key in ("goal", "step", "every", "max")
    }
    assert list(option_changes(first, first)) == []


def test_a_preset_that_must_now_be_picked_is_named():
    blank = "upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg]}"
    (offer,) = option_changes(example(SOUND), revised((UPPER, blank)))
    assert (offer.presets[0].text, offer.presets[1]) == ("22 mmHg", None)
    assert list(option_changes(example(SOUND), example(SOUND))) == []


def test_what_a_new_order_may_leave_unchecked_is_unchecked():
    weight = "anticoagulation: {blank: optional, label: Anticoagulation}"
    found = compared(example(SOUND), revised(("    anticoagulation: none", f"    {weight}")))
    assert found.comparison.relation == "looser"
    left = {item.rule for item in found.assessment.unchecked}
    broken = {item.broken.rule for item in found.newly_broken}
    assert "missing-patient-anticoagulation" in broken
    assert all(item.missing for item in found.assessment.unchecked)
    assert not left & broken


def test_of_a_set_that_is_not_understood_the_fault_is_found():
    broken = order_set("treat_above: {choose: 8 mmHg}")
    found = compared(example(SOUND), broken)
    assert found.comparison.relation == "open"
    rules = {finding.rule for finding in found.assessment.findings}
    assert rules == {"set-entry-not-understood", "could-not-be-proved"}
    assert {finding.ask_whom for finding in found.assessment.findings} == {"author"}
    assert found.assessment.verdict is not Verdict.CLEAR


def test_what_the_policy_suppresses_is_said(tmp_path):
    file = tmp_path / "policy.yaml"
    file.write_text(
        "document: site-policy\nformat: 1\ntitle: an invented policy\nsuppressions:\n"
        "  - {rule: upper-pause-over-adult-threshold, reason: invented, approved_by: a committee, "
        'until: "2030-01-01T00:00:00Z"}\n'
    )
    wide = "upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg, 25 mmHg], preset: 22 mmHg}"
    rulebook = reading("pause.upper", book=load_policy(file).rulebook)
    found = compare_sets(example(SOUND), revised((UPPER, wide)), AT, rulebook)
    assert [item.finding.rule for item in found.assessment.suppressed] == [
        "upper-pause-over-adult-threshold"
    ]
    hidden = [item for item in found.newly_broken if item.order_finding is None]
    assert [item.broken.rule for item in hidden] == ["upper-pause-over-adult-threshold"]
    assert hidden[0].suppressed.finding.level is Level.CLARIFY


def test_what_is_suppressed_at_one_setting_is_still_found_at_another(tmp_path):
    """Though the nearest new order breaks the rule where the policy accepts it."""
    file = tmp_path / "policy.yaml"
    file.write_text(
        "document: site-policy\nformat: 1\ntitle: an invented policy\nsuppressions:\n"
        "  - {rule: level-not-settable, path: pause.lower, reason: invented, approved_by: a "
        'committee, until: "2030-01-01T00:00:00Z"}\n'
    )
    after = revised(
        ("lower: {choose: [1 mmHg, 2 mmHg]", "lower: {choose: [1 mmHg, 1.5 mmHg, 2 mmHg]"),
        ("upper: {choose: [20 mmHg, 21 mmHg", "upper: {choose: [20.5 mmHg, 20 mmHg, 21 mmHg"),
    )
    book = reading("pause.lower", "pause.upper", book=load_policy(file).rulebook)
    found = compare_sets(example(SOUND), after, AT, book)
    said = [f.path for f in found.assessment.findings if "level-not-settable" in f.says]
    assert said == ["pause.upper"]


def test_what_is_judged_at_signing_is_not_said_of_a_new_order():
    """Though the same rule is broken by what the set itself fixes."""
    rule = (
        "rules:\n  - rule: demo\n    over: [starts, review_by]\n    level: clarify\n"
        "    require: it > written\n    says: It is {it}.\n    why: Invented.\n    ask: When?\n"
        "    ask_whom: prescriber\n    source: {kind: local-policy}\n"
    )
    times = "therapy: irrigation\n  written: 2030-03-02T15:00:00Z\n  starts: 20{}-03-02T15:00:00Z"
    first, second = (revised(("therapy: irrigation", times.format(year))) for year in (31, 29))
    found = compare_sets(first, second, AT, reading("starts", book=local(rule)))
    (item,) = [item for item in found.newly_broken if item.broken.rule == "demo"]
    assert item.broken.paths == ("starts", "written")
    assert (item.broken.before.result, item.broken.before.at_signing) == (PROVED, ("review_by",))
    left = "Every order from the earlier set keeps it. Of it, what rests on the review time"
    assert f"{left} was left to signing." in said(found)


PROVED = Decision.PROVED


def said(found):
    return " ".join(render_blocks(set_blocks(found, AT), width=80).split())


@pytest.mark.slow
def test_rules_that_are_left_to_signing_are_not_counted_as_asked():
    """By each rule's result in a review of the later set."""
    later = review(text_of().encode(), "after.yaml", AT)
    left = [proof.rule for proof in later.proofs if proof.result is Decision.AT_SIGNING]
    change = UPPER.replace("20 mmHg", "25 mmHg", 1)
    found = compared(example(SOUND), revised((UPPER, change)))
    assert found.comparison.at_signing == tuple(left)
    assert len(left) > 5
    asked = [rule for rule in found.rulebook.order_rules if rule.instances]
    assert found.assessment.rules == len(asked) - len(left)
    said = " ".join(render_blocks(set_blocks(found, AT), width=80).split())
    assert f"Left to signing, and so not asked: {len(left)} rules." in said


def test_a_rule_that_was_left_to_signing_and_is_broken_now():
    """The earlier set left the times to be written; the later fixes them wrongly in new orders."""
    times = "therapy: irrigation\n  starts: 2026-03-03T15:00:00Z\n  review_by: 2026-03-02T15:00:00Z"
    after = revised(("therapy: irrigation", times), ("to: 12 mmHg", "to: 13 mmHg"))
    found = compared(example(SOUND), after, "starts", "review_by")
    (item,) = [item for item in found.newly_broken if item.broken.rule == "review-before-start"]
    assert item.broken.before.result is Decision.AT_SIGNING
    assert "In orders from the earlier set it was left to signing." in said(found)


def test_each_result_of_an_earlier_set_has_its_words():
    """But for a rule that is not asked, which is not asked of the later set either."""
    assert {*BEFORE} == {*Decision} - {Decision.INACTIVE}


def test_what_was_left_open_for_another_lack_is_unchecked_anew():
    """A new order that nobody can check is passed over only where the old ones lacked the same."""
    rule = (
        "rules:\n  - rule: demo\n    level: clarify\n"
        "    require: targets.map > pause.upper\n    says: It is so.\n    why: Invented.\n"
        "    ask: Which?\n    ask_whom: prescriber\n    source: {kind: local-policy}\n"
    )
    whole_map = "map: {choose: [85 mmHg, 90 mmHg], preset: 90 mmHg}"
    empty = "{blank: optional, label: x, from: 85 mmHg, to: 90 mmHg, step: 5 mmHg}"
    bad = UPPER.replace("[20 mmHg", "[20")
    lacks_map, lacks_upper = (whole_map, f"map: {empty}"), (UPPER, bad)
    for before, after, left in (
        ([lacks_map], [lacks_map, lacks_upper], False),
        ([lacks_upper], [lacks_upper, ("[1 mmHg, 2 mmHg]", "[1 mmHg, 2 mmHg, 3 mmHg]")], True),
    ):
        found = compare_sets(revised(*before), revised(*after), AT, of_one(local(rule), "demo"))
        assert ("demo" in found.left_open) == left
        assert ("demo" in {item.rule for item in found.assessment.unchecked}) != left


def test_a_rule_that_was_broken_before_was_not_left_open_before():
    """So that a new order which nobody can check is not passed over."""
    before = whole(text_of(SOUND, (UPPER, UPPER.replace("[20 mmHg", "[25 mmHg"))), "before.yaml")
    rule = "upper-pause-over-adult-threshold"
    after = revised((UPPER, UPPER.replace("[20 mmHg", "[20")))
    found = compare_sets(before, after, AT, of_one(load("order-set"), rule))
    (left,) = [item for item in found.comparison.broken if item.rule == rule]
    assert (left.before.result, left.missing) == (Decision.BROKEN, ("pause.upper",))
    assert rule in {item.rule for item in found.assessment.unchecked}
    lacking = f"{rule}, for lack of upper pause limit (cannot be read)."
    assert f"{lacking} The earlier set has orders that break it too." in said(found)


@pytest.mark.slow
def test_a_blank_for_the_fluid_takes_any_text(monkeypatch):
    """So that to name one fluid instead is to narrow the set, whichever it is.

    Which rules the new orders break is not asked here.
    """
    monkeypatch.setattr("orderlint.proof.set_difference._asked_of", lambda *_: ())
    fluid = "fluid: {choose: [lactated Ringer's, sodium chloride 0.9 %], preset: lactated Ringer's}"
    blank = whole(text_of(SOUND, (fluid, "fluid: {blank: required, label: Fluid}")), "before.yaml")
    for named in ("glycine", "lactated Ringer's", "sterile water"):
        after = revised((fluid, f"fluid: {named}"))
        assert compared(blank, after).comparison.relation == "stricter"
        assert compared(after, blank).comparison.relation == "looser"
    one, other = (revised((fluid, f"fluid: {named}")) for named in ("glycine", "mannitol"))
    assert compared(one, other).comparison.relation == "both"


@pytest.mark.slow
def test_a_set_of_little_beside_another():
    first = whole(HEAD + "  therapy: drainage\n", "first.yaml")
    second = whole(HEAD + "  therapy: {choose: [drainage, monitoring], preset: drainage}\n")
    found = compared(first, second)
    assert found.comparison.relation == "looser"
    assert found.broken_before
