"""What the report on an order set says: presets, picks, what verify says, narrowings, results."""

from __future__ import annotations

import functools
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from order_sets import AT, reading, review, reviewed

from orderlint.order import Leaf, State
from orderlint.order_set.model import Span
from orderlint.proof.narrowing import Narrowing
from orderlint.report.review import blocks as review_blocks
from orderlint.report.review.blocks import blocks
from orderlint.report.review.narrowings import joint_narrowings, offer_words
from orderlint.report.review.words import covered, in_part, leads, picks, verify_says
from orderlint.report.text import render_blocks

FOLDER = Path(__file__).parents[2] / "examples"
SOUND = (FOLDER / "set-irrigation-adult.yaml").read_text(encoding="utf-8")


@functools.cache
def sound_set():
    return review(SOUND.encode(), "set.yaml", AT).order_set


@pytest.fixture(scope="module")
def cornered():
    return reviewed("set-irrigation-corners.yaml")


@pytest.fixture(scope="module")
def blanks():
    return reviewed("set-blanks-and-mixed-units.yaml")


def said_of(found):
    return " ".join(render_blocks(blocks(found, (), AT), width=80).split())


def test_rules_that_are_judged_in_part_at_signing_are_said_to_be():
    """A proof that speaks of everything but the prescriber's name is not a whole one."""
    found = reviewed("set-irrigation-adult.yaml")
    text = " ".join(render_blocks(blocks(found, (), AT), width=80).split())
    count = len(in_part(found))
    assert count > 1
    assert f"In part left to signing ({count}): Of those above it rests in part on" in text
    assert f"{count} of those decided are left to signing in part." in text


def test_of_many_texts_what_is_to_go_is_named():
    """They have no order, so that no first and last can stand for the rest."""
    slot = replace(
        sound_set().slots["irrigation.fluid"],
        options=tuple(
            Leaf("irrigation.fluid", State.KNOWN, text, None, text) for text in "abcdefghij"
        ),
    )
    made = replace(sound_set(), slots={slot.path: slot})
    kept = (0, 2), tuple(range(9))
    few, many = (Narrowing(slot.path, each, None, Fraction(1)) for each in kept)
    assert offer_words(few, made) == "offer only “a” or “c” as the irrigation fluid"
    assert offer_words(many, made) == "no longer offer “j” as the irrigation fluid"


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ((10, 20, 30, 40, 50, 60, 70, 80), "offer only 20, 30 and so on up to 80"),
        ((80, 70, 60, 50, 40, 30, 20, 10), "offer only 70, 60 and so on down to 10"),
        ((10, 20, 30, 40, 50, 60, 70, 5), "no longer offer 10"),
        ((10, 20, 21, 24, 25, 30, 70, 80), "no longer offer 10"),
    ],
)
def test_numbers_that_keep_no_step_are_not_said_by_their_ends(values, says):
    """From first to last says which stand between only where each is a step from the one before."""
    whole_set = sound_set()
    options = tuple(Leaf("treat_above", State.KNOWN, value, None, str(value)) for value in values)
    slot = replace(whole_set.slots["treat_above"], options=options, preset=None)
    made = Narrowing("treat_above", tuple(range(1, 8)), None, Fraction(1))
    said = offer_words(made, replace(whole_set, slots={slot.path: slot}))
    assert said == f"{says} as the treat-above level"


def test_the_ends_of_a_blank_are_cut_inwards_to_what_can_be_written():
    """Else a question would offer a number just beside what was proved."""
    order_set = sound_set()
    grids = {"mmHg": 135_951, "cmH2O": 1}
    lowest, low, high, highest = (13_595_100 * mmhg for mmhg in (-200, -2, 8, 200))
    slot = replace(order_set.slots["drainage.height"], span=Span(lowest, highest, grids))
    order_set = replace(order_set, slots={**order_set.slots, slot.path: slot})
    for ends, said in (
        ((low - 1, high + 1), "-2 mmHg to 8 mmHg"),
        ((lowest, high + 1), "8 mmHg or less"),
        ((low - 1, highest), "-2 mmHg or more"),
    ):
        made = Narrowing(slot.path, (), Span(*ends, grids), Fraction(1, 2))
        assert offer_words(made, order_set) == (
            f"let only {said} be written in the blank for the drain height"
        )


def test_after_what_is_broken_stands_whether_the_presets_are_sound_and_what_they_yield(cornered):
    text = said_of(cornered)
    broken, first = text.split("The presets as they stand", 1)
    assert "DO NOT RELEASE: " in broken
    assert "They are sound as far as they are filled in: verify finds nothing in them." in first
    count = len(cornered.presets.assessment.unchecked)
    assert f"Until its blanks are filled in, {count} rules cannot be checked." in first
    unfilled = said_of(replace(cornered, to_fill=()))
    assert f"not there, or cannot be read, {count} rules could not be checked." in unfilled
    assert "above 8 up to 22 mmHg" in first
    assert "irrigation on, drain valve open" in first


@pytest.mark.parametrize(
    ("changed", "is_unsound", "weight"),
    [("lower: 80 mmHg", True, "DO NOT START – CALL"), ("lower: -1 mmHg", False, "CLARIFY")],
)
def test_presets_in_which_something_is_found_are_said_to_have_it(changed, is_unsound, weight):
    text = SOUND.replace("lower: {choose: [1 mmHg, 2 mmHg], preset: 2 mmHg}", changed)
    assert text != SOUND
    said = said_of(review(text.encode(), "set.yaml", AT, reading("pause.lower")))
    assert ("They are not sound." in said) == is_unsound
    assert "They are sound" not in said
    assert f"in them, named above; the heaviest is {weight}." in said


@pytest.mark.slow
def test_of_a_broken_rule_that_a_heavier_one_speaks_for_verify_is_quoted_too(blanks):
    """Else nobody would hear of it before the heavier one is mended."""
    silent = [i for i in blanks.broken if i.order_finding and i.order_finding.rule != i.rule.id]
    assert [item.rule.id for item in silent] == [*covered(blanks)]
    assert len(silent) == 4
    for item in silent:
        assert item.set_finding is None
        assert (
            f"by the rule {item.order_finding.rule}, which covers it: {item.order_finding.says}"
            in (verify_says(item))
        )
        assert " ".join(verify_says(item).split()) in said_of(blanks)


@pytest.mark.slow
def test_narrowings_together_say_of_which_broken_rules_they_prove_nothing(blanks):
    offers, said = joint_narrowings(blanks)
    proved, rest = said.split(" Of the other broken rules it proves nothing: ")
    assert len(offers) == len(blanks.together) > 1
    for item in blanks.broken:
        assert item.rule.id in (proved if item.is_narrowed else rest)


def test_a_narrowing_that_another_makes_needless_is_not_asked_for_beside_it(cornered):
    """Without an upper pause limit of 14 mmHg, each treat-above level that is offered will do."""
    named = {item.narrowings[0].path for item in cornered.broken}
    assert named == {"treat_above", "pause.upper", "drainage.height"}
    assert [made.path for made in cornered.together] == ["pause.upper", "drainage.height"]
    text = said_of(cornered)
    assert "Would it do to make all of these changes?" in text
    assert "The others named above would then not be needed." in text
    alone = said_of(replace(cornered, together=cornered.together[:1]))
    assert "Would it do to make this one change alone?" in alone


def test_narrowings_that_are_not_proved_together_are_said_not_to_be(cornered):
    apart = replace(cornered, together=())
    assert joint_narrowings(apart) == ([], "It is not proved that together they would do.")
    alone = replace(apart, broken=apart.broken[:1])
    assert joint_narrowings(alone) == ([], "")


def test_every_result_in_a_report_has_its_meaning_beside_it_and_counts_what_it_lists(cornered):
    rows = list(review_blocks.rules(cornered))
    named = 0
    for said, ids in rows:
        name, _, means = said.partition(": ")
        assert means.endswith(".")
        count = 0 if ids == "none." else len(ids.split(", "))
        assert f"({count})" in name
        named += count if "In part" not in name else 0
    assert named == len(cornered.proofs)
    assert any(said.startswith("Not asked (2): ") for said, _ in rows)


@pytest.mark.slow
def test_one_change_is_not_said_to_be_wanting_where_one_to_the_patient_would_do():
    said = said_of(reviewed("set-drainage-with-sections.yaml"))
    assert (
        "Ask the author: Beside what the patient is like, no narrowing of one setting alone would "
        "do."
    ) in said


def test_that_no_sound_order_can_be_signed_leads_the_report_of_a_set_with_nothing_to_pick():
    """It stood behind what the presets break, and behind the list of what is missing."""
    fixed = re.sub(r"\{(?:choose|from)[^{}]*preset: ([^{}]*)\}", r"\1", SOUND)
    fixed = fixed.replace("treat_above: 8 mmHg", "treat_above: 25 mmHg").replace("  access:", "  #")
    assert "choose" not in fixed
    found = review(fixed.encode(), "set.yaml", AT)
    assert found.assessment.findings[0].rule == "no-sound-order-exists"
    said = said_of(found)
    lead = said.index("DO NOT RELEASE: The set as a whole No sound order can be signed")
    assert lead < said.index("Missing from the presets") < said.index("The presets as they stand")
    assert said.count("No sound order can be signed") == 1


@pytest.mark.slow
def test_what_is_filled_in_a_blank_that_may_stay_empty_is_named_among_the_picks():
    """It changes no preset, and is what makes the order bad all the same."""
    blank = "treat_above: {blank: optional, label: Treat above}"
    line = next(row for row in SOUND.splitlines() if row.strip().startswith("treat_above:"))
    changed = SOUND.replace(line.strip(), blank).encode()
    found = review(changed, "set.yaml", AT, reading("treat_above"))
    (item,) = [i for i in found.broken if i.rule.id == "treat-above-over-upper-pause"]
    assert picks(item) == ["treat-above level: 22 mmHg (preset: left empty)"]


def test_an_order_of_which_it_is_not_known_that_none_is_nearer_is_not_called_the_nearest(cornered):
    (item, *_) = cornered.broken
    open_ = replace(item, nearest=replace(item.nearest, is_least=False))
    departs = ". This one departs{} the least from the presets; all else is as preset:"
    assert leads(item).endswith(departs.format(""))
    assert leads(open_).endswith(departs.format(", perhaps not"))


@pytest.mark.slow
def test_what_is_missing_from_the_presets_stands_in_one_list_with_what_was_known_marked(blanks):
    gone = review_blocks.missing_presets(blanks)
    said = said_of(blanks)
    assert len(gone) > 10
    assert "DO NOT RELEASE: Notification: net-in notify limit" in said
    assert "break missing-" not in said
    known = render_blocks(blocks(blanks, {gone[-1]}, AT), width=80)
    assert "NOTE: Monitoring: re-levelling on movement. Known already." in known


def test_presets_with_faults_that_leave_open_what_they_are_are_not_called_sound():
    text = SOUND.replace("2 mmHg], preset:", "2 mmHg], prest:")
    said = said_of(review(text.encode(), "set.yaml", AT))
    assert "They are sound" not in said
    assert "Whether they are sound is not known" in said
