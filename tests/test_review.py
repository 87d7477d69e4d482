"""What is said of a reviewed set: proofs, nearest orders, narrowings, choices."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import core_yaml
import pytest
from order_sets import AT, HEAD, reading, review, reviewed, some_rules, whole
from policy_files import local, suppression

from orderlint.finding import Level, Refused, Verdict
from orderlint.order import SIGNING_FIELDS, Leaf, Order, State
from orderlint.proof.counting import count
from orderlint.proof.prover import Decision
from orderlint.proof.unused_options import NeverSound, choices_of
from orderlint.report.review.blocks import blocks
from orderlint.report.review.words import picks
from orderlint.report.text import render_blocks
from orderlint.verification import verify_order

FOLDER = Path(__file__).parents[1] / "examples"
SETS = core_yaml.load_file(FOLDER / "expected-sets.yaml")
OF_AN_ORDER = {"preset-breaks-rule", "reachable-order-breaks-rule"}
"""What is found by proof of one order of a set, and not of all."""
SOUND = (FOLDER / "set-irrigation-adult.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def cornered():
    return reviewed("set-irrigation-corners.yaml")


def test_the_sound_example_is_proved_for_every_rule_that_applies():
    found = reviewed("set-irrigation-adult.yaml")
    assert (found.assessment.verdict, found.assessment.findings, found.assessment.unchecked) == (
        Verdict.CLEAR,
        (),
        (),
    )
    left = {proof.result for proof in found.proofs}
    assert left == {Decision.PROVED, Decision.VACUOUS, Decision.AT_SIGNING, Decision.INACTIVE}
    assert found.count.orders > 100_000


def _with_strengths(strengths):
    additive = f"additive: {{name: vancomycin, concentration: {strengths}, class: antimicrobial}}"
    assert "additive: none" in SOUND
    book = reading("irrigation.additive.concentration")
    return review(SOUND.replace("additive: none", additive).encode(), "set.yaml", AT, book)


def _results(found):
    rules = {"additive-mass-high", "additive-mass-refused", "additive-in-other-units"}
    return {p.rule: p.result for p in found.proofs if p.rule in rules}


def test_strengths_of_a_set_are_proved_beside_its_rates():
    found = _results(_with_strengths("{choose: [10 mg/L, 20 mg/L, 10 mcg/mL]}"))
    assert set(found.values()) == {Decision.PROVED}
    found = _results(_with_strengths("{choose: [10 mg/L, 500 mg/L]}"))
    assert found["additive-mass-high"] is Decision.BROKEN
    assert found["additive-mass-refused"] is Decision.PROVED


def test_a_strength_in_units_is_not_proved_as_a_mass():
    found = _results(_with_strengths("{choose: [10 mg/L, 10 units/L]}"))
    assert found["additive-mass-refused"] is not Decision.PROVED
    assert found["additive-in-other-units"] is Decision.BROKEN


@pytest.mark.slow
def test_an_open_strength_can_be_any():
    found = _results(_with_strengths("{blank: required, label: Strength}"))
    assert set(found.values()) == {Decision.BROKEN}


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
def test_some_order_from_an_example_breaks_exactly_the_rules_that_are_expected(name):
    found = reviewed(name)
    assert [item.rule.id for item in found.broken] == SETS[name]["orders"]
    said = {finding.rule for finding in found.assessment.findings}
    whole = {rule.id for rule in _book().rules.values() if rule.found_by == "proof"} - OF_AN_ORDER
    assert said & whole == set(SETS[name]["whole"])


def test_fine_presets_and_corners_that_are_not(cornered):
    assert cornered.presets.assessment.findings == ()
    assert [(item.rule.id, picks(item)) for item in cornered.broken][:1] == [
        (
            "treat-above-over-upper-pause",
            [
                "upper pause limit: 14 mmHg (preset: 22 mmHg)",
                "treat-above level: 14 mmHg (preset: 8 mmHg)",
            ],
        )
    ]
    assert {finding.rule for finding in cornered.assessment.findings} == {
        "reachable-order-breaks-rule"
    }
    assert cornered.assessment.verdict is Verdict.DO_NOT_START


def test_a_finding_of_a_set_has_the_level_and_words_of_the_broken_rule(cornered):
    for item in cornered.broken:
        assert item.set_finding is not None
        assert item.set_finding.level is item.rule.level
        assert item.order_finding.says in item.set_finding.says
        assert (item.set_finding.why, item.set_finding.source) == (
            item.order_finding.why,
            item.order_finding.source,
        )
        assert item.set_finding.also == item.order_finding.also
        assert item.set_finding.ask_whom == "author"


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
def test_verify_finds_each_broken_rule_or_its_coverer_on_the_nearest_order(name):
    found = reviewed(name)
    for item in found.broken:
        verified = verify_order(Order(name, item.nearest.leaves, ()), AT, _book())
        shown = {finding.rule for finding in verified.assessment.findings}
        assert item.rule.id in shown or any(item.rule.id in _book().rules[r].covers for r in shown)


def _book():
    from orderlint.rulebook.load import load  # noqa: PLC0415 - after the cache is warm

    return load("order-set")


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
def test_the_heaviest_finding_leads_and_makes_the_verdict(name):
    found = reviewed(name)
    weights = [finding.level.weight for finding in found.assessment.findings]
    assert weights == sorted(weights, reverse=True)
    heavy = any(finding.level is Level.DO_NOT_START for finding in found.assessment.findings)
    assert (found.assessment.verdict is Verdict.DO_NOT_START) == heavy


def test_a_narrowing_leaves_the_rule_proved(cornered):
    (item, *_) = cornered.broken
    made = item.narrowings[0]
    assert made.path == "treat_above"
    narrower = (FOLDER / "set-irrigation-corners.yaml").read_text(encoding="utf-8")
    options = [cornered.order_set.slots[made.path].options[index].text for index in made.kept]
    line = next(row for row in narrower.splitlines() if row.strip().startswith("treat_above:"))
    narrower = narrower.replace(
        line, f"  treat_above: {{choose: [{', '.join(options)}], preset: {options[0]}}}"
    )
    again = review(narrower.encode(), "narrower.yaml", AT)
    assert item.rule.id not in {other.rule.id for other in again.broken}


def test_what_a_patient_is_like_is_never_narrowed():
    found = reviewed("set-drainage-with-sections.yaml")
    assert all(
        not made.path.startswith("patient.") for item in found.broken for made in item.narrowings
    )


def test_an_option_that_no_sound_order_has_is_named():
    text = SOUND.replace("lower: {choose: [1 mmHg,", "lower: {choose: [80 mmHg, 1 mmHg,")
    found = review(text.encode(), "set.yaml", AT)
    (never,) = [
        finding for finding in found.assessment.findings if finding.rule == "choice-never-sound"
    ]
    assert "No sound order has 80 mmHg as the lower pause limit." in never.says
    assert "pause-limits-reversed" in never.says


def test_each_mistake_in_a_set_is_a_finding_at_its_own_place():
    """Those of one rule were one finding, at the first place, with all their words in a row."""
    mistakes = ("lower: {choose: [1 mmHg], prest: 1 mmHg}", "upper: {from: 22 mmHg, stp: 1}")
    lines = [line for line in SOUND.splitlines(keepends=True) if not PAUSE.match(line)]
    at = lines.index("  pause:\n") + 1
    lines[at:at] = [f"    {line}\n" for line in mistakes]
    found = review("".join(lines).encode(), "set.yaml", AT).assessment.findings
    wrong = [finding for finding in found if finding.rule == "set-entry-not-understood"]
    assert [finding.place.line for finding in wrong] == [at + 1, at + 2, at + 2]
    assert ["prest" in finding.says for finding in wrong] == [True, False, False]
    assert len({finding.place for finding in wrong}) == 3


PAUSE = re.compile(r"    (?:lower|upper):")


def test_a_set_of_which_no_order_is_sound_is_said_to_be_one():
    text = SOUND.replace("lower: {choose: [1 mmHg, 2 mmHg], preset: 2 mmHg}", "lower: 80 mmHg")
    found = review(text.encode(), "set.yaml", AT)
    (none,) = [
        finding for finding in found.assessment.findings if finding.rule == "no-sound-order-exists"
    ]
    assert "pause-limits-reversed" in none.says
    assert none.level is Level.DO_NOT_START


def test_a_zone_may_be_left_out_when_an_order_is_signed():
    rule = (
        "rules: [{rule: demo, level: note, require: given(zone), says: Invented., why: Invented., "
        "ask: What?, ask_whom: author, source: {kind: local-policy}}]\n"
    )
    found = review(SOUND.encode(), "set.yaml", AT, reading("zone", book=local(rule)))
    assert [item.rule.id for item in found.broken] == ["demo"]
    assert "zone" not in found.to_fill


def test_a_set_that_reads_badly_proves_nothing():
    text = SOUND.replace("2 mmHg], preset:", "2 mmHg], prest:")
    found = review(text.encode(), "set.yaml", AT)
    assert Decision.PROVED not in {proof.result for proof in found.proofs}
    assert "could-not-be-proved" in {finding.rule for finding in found.assessment.findings}
    assert found.choices is None
    assert {finding.ask_whom for finding in found.assessment.findings} == {"author"}
    said = " ".join(render_blocks(blocks(found, (), AT), width=80).split())
    assert "No order from the set leaves a rule unchecked." not in said
    assert "rules that were not proved it is not known whether some order" in said
    assert "did you mean preset?." not in said


def test_an_order_is_no_order_set():
    with pytest.raises(Refused):
        review((FOLDER / "clean.yaml").read_bytes(), "clean.yaml", AT)


@pytest.mark.parametrize("status", ["", "  status: {choose: [draft, active], preset: draft}\n"])
def test_the_facts_of_signing_that_a_set_does_not_mention_make_no_other_order(status):
    text = (FOLDER / "clean.yaml").read_text(encoding="utf-8")
    signed = ("document", "format", *SIGNING_FIELDS)
    lines = [line for line in text.splitlines() if not line.startswith((*signed, "#"))]
    order_set = whole(HEAD + status + "".join(f"  {line}\n" for line in lines))
    found = count(order_set)
    assert (found.orders, found.is_exact) == (2 if status else 1, True)
    assert {*found.left_out} == SIGNING_FIELDS - ({"status"} if status else set())


def test_what_the_policy_suppresses_is_named_and_what_is_wrong_with_it_is_asked():
    parts = "\n".join(
        f"  - {{rule: {rule}, reason: invented, approved_by: a committee, until: {until}}}"
        for rule, until in (
            ("drain-margin-small", '"2030-01-01T00:00:00Z"'),
            ("no-such-rule", '"2030-01-01T00:00:00Z"'),
        )
    )
    data = (FOLDER / "set-irrigation-corners.yaml").read_bytes()
    found = review(data, "set.yaml", AT, local(f"suppressions:\n{parts}\n"))
    assert [item.finding.rule for item in found.assessment.suppressed] == ["drain-margin-small"]
    assert not any("drain-margin-small" in finding.says for finding in found.assessment.findings)
    (wrong,) = [f for f in found.assessment.findings if f.rule == "suppression-rule-unknown"]
    assert wrong.place.file == "unit.yaml"
    text = render_blocks(blocks(found, (), AT), width=80)
    assert "Suppressed by the policy" in text
    assert "Approved by: a committee" in text


def test_what_is_suppressed_at_one_setting_is_still_found_at_another():
    """A suppression hides what was accepted, and nothing beside it."""
    text = SOUND.replace("lower: {choose: [1 mmHg, ", "lower: {choose: [1.5 mmHg, ")
    assert text != SOUND
    book = local(
        "suppressions:\n  - {rule: level-not-settable, path: pause.lower, reason: invented, "
        'approved_by: a committee, until: "2030-01-01T00:00:00Z"}\n'
    )
    book = reading("pause.lower", "pause.upper", book=book)
    alone = review(text.encode(), "set.yaml", AT, book)
    assert [item.finding.path for item in alone.assessment.suppressed] == ["pause.lower"]
    assert not any("level-not-settable" in f.says for f in alone.assessment.findings)
    upper = text.replace("upper: {choose: [20 mmHg, ", "upper: {choose: [20.5 mmHg, ")
    assert upper != text
    both = review(upper.encode(), "set.yaml", AT, book)
    assert [item.finding.path for item in both.assessment.suppressed] == ["pause.lower"]
    found = [f for f in both.assessment.findings if f.rule == "reachable-order-breaks-rule"]
    assert [f.path for f in found] == ["pause.upper"]


def test_what_is_broken_on_every_order_does_not_speak_for_what_is_suppressed_elsewhere():
    """A replay is heard at the settings at which the rule is broken, and at no other."""
    text = SOUND.replace("lower: {choose: [1 mmHg, ", "lower: {choose: [1.5 mmHg, ")
    text = text.replace("upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg], preset: 22 mmHg}", FINE)
    assert "20.5" in text
    book = reading(
        "pause.lower",
        "pause.upper",
        book=local(suppression("level-not-settable", path="pause.lower")),
    )
    found = review(text.encode(), "set.yaml", AT, book)
    assert [item.finding.path for item in found.assessment.suppressed] == ["pause.lower"]
    said = [f for f in found.assessment.findings if f.rule == "preset-breaks-rule"]
    assert [f.path for f in said if "level-not-settable" in f.says] == ["pause.upper"]


@pytest.mark.parametrize("path", [None, "pause.upper"])
def test_what_nobody_knows_is_not_suppressed(path):
    """A policy accepts a finding; what could not be checked is none, in a review as in an order."""
    text = SOUND.replace("upper: {choose: [20 mmHg, ", "upper: {choose: [20, ")
    assert text != SOUND
    of_level = review(text.encode(), "set.yaml", AT, reading("pause.upper"))
    open_ = {item.rule for item in of_level.assessment.unchecked}
    assert {"treating-window-narrow", "level-not-settable"} <= open_
    for rule in ("treating-window-narrow", "level-not-settable"):
        book = reading("pause.upper", book=local(suppression(rule, path=path)))
        found = review(text.encode(), "set.yaml", AT, book)
        assert {item.rule for item in found.assessment.unchecked} == open_


def test_what_is_suppressed_does_not_speak_for_what_nobody_knows():
    """Of a rule that one order breaks and another leaves unchecked, the policy accepts the one."""
    text = SOUND.replace("upper: {choose: [20 mmHg, ", "upper: {choose: [20, 20.5 mmHg, ")
    book = reading(
        "pause.lower",
        "pause.upper",
        book=local(suppression("level-not-settable", path="pause.upper")),
    )
    found = review(text.encode(), "set.yaml", AT, book)
    assert [item.finding.path for item in found.assessment.suppressed] == ["pause.upper"]
    (left,) = [item for item in found.assessment.unchecked if item.rule == "level-not-settable"]
    assert left.missing == ("pause.upper",)


FINE = "upper: 20.5 mmHg"
"""A level too fine for the controller."""


@pytest.mark.parametrize(("group", "named"), [("adult", set()), ("child", {"child"})])
def test_of_a_set_for_one_group_what_is_not_asked_of_others_is_not_listed(group, named):
    """And of a rule that is asked of others, what is not asked of this one is."""
    text = SOUND.replace("  group: adult", f"  group: {group}")
    assert text.count(f"  group: {group}") == 1
    found = review(text.encode(), "set.yaml", AT)
    said = {
        word
        for item in found.assessment.inactive
        for word in ("child", "infant")
        if word in item.reason
    }
    assert said == named


def settled_but_for(monkeypatch, **left):
    """The sound set, of which the search for sound orders left something open."""
    from orderlint import set_review as room  # noqa: PLC0415

    monkeypatch.setattr(room, "choices_of", lambda *of: replace(choices_of(*of), **left))
    return review(SOUND.encode(), "set.yaml", AT, some_rules(9))


ONE_WAY = NeverSound("treat_above", 1, Leaf("treat_above", State.KNOWN, 1), (), False)


@pytest.mark.parametrize(
    ("left", "said"),
    [
        ({"open": (("treat_above", 1), ("treat_above", 2))}, "2 of the treat-above level"),
        ({"never_sound": (ONE_WAY,)}, "1 of the treat-above level"),
        ({"sound": None, "sound_is_open": True}, "some order from the set is sound could not"),
        ({"shown_is_open": ("titration",)}, "each section can be shown could not be proved"),
    ],
)
def test_what_a_search_leaves_open_is_no_pass(monkeypatch, left, said):
    found = settled_but_for(monkeypatch, **left)
    (finding,) = found.assessment.findings
    assert finding.rule == "could-not-be-proved"
    assert said in finding.says
    assert found.assessment.verdict is Verdict.CLARIFY


NAMED = [
    ("additive: none", "additive: {name: %s, concentration: 1 mg/L, class: other}"),
    ("{choose: [lactated Ringer's, sodium chloride 0.9 %], preset: lactated Ringer's}", "%s"),
]


def _of_drug(setting, entry):
    """What became of the rule on chlorhexidine where a setting of the sound set is changed."""
    old, new = setting
    assert old in SOUND
    book = reading("irrigation.additive.name", "irrigation.fluid")
    found = review(SOUND.replace(old, new % entry).encode(), "set.yaml", AT, book)
    (proof,) = (each for each in found.proofs if each.rule == "chlorhexidine-in-bag")
    return found, proof


@pytest.mark.parametrize("setting", NAMED)
def test_a_drug_that_is_fixed_or_offered_is_found_in_a_set(setting):
    assert _of_drug(setting, "vancomycin")[1].result is Decision.PROVED
    assert _of_drug(setting, "chlorhexidine")[1].result is Decision.BROKEN
    found, proof = _of_drug(setting, "{choose: [vancomycin, chlorhexidine, no CHG]}")
    assert proof.result is Decision.BROKEN
    (broken,) = (each for each in found.broken if each.rule.id == "chlorhexidine-in-bag")
    assert "chlorhexidine" in {pick.leaf.text for pick in broken.nearest.picks}


@pytest.mark.parametrize("setting", NAMED)
@pytest.mark.parametrize("blank", ["required", "optional"])
def test_anything_may_be_written_in_a_blank_so_that_no_drug_is_proved_away(setting, blank):
    found, proof = _of_drug(setting, f"{{blank: {blank}, label: Which}}")
    path = "irrigation.additive.name" if setting is NAMED[0] else "irrigation.fluid"
    # Proved of the other place alone: in part it is left to signing, and the report says so.
    assert proof.result in {Decision.PROVED, Decision.VACUOUS}
    assert proof.at_signing == (path,)
    of_fluid = {each.rule: each.result for each in found.proofs}["irrigation-grade-fluid"]
    is_open = setting is NAMED[1]
    assert of_fluid is (Decision.AT_SIGNING if is_open else Decision.PROVED)
    assert "chlorhexidine-in-bag" not in {item.rule for item in found.assessment.unchecked}
    # What is left to signing does not keep a set from having a sound order.
    assert found.choices.sound is not None
