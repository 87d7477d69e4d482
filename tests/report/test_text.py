from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.hand_made import (
    CROSSED,
    INACTIVE,
    MISSING,
    SETTINGS,
    SPELLING,
    UNCHECKED,
    made,
    missing,
)

from orderlint.finding import Level, Verdict
from orderlint.report.order.blocks import blocks
from orderlint.report.text import render_blocks, render_unread
from orderlint.report.unchecked_files import Unread

FULL = made((CROSSED, *MISSING, SPELLING), UNCHECKED, INACTIVE)
CAUTION = (
    "Caution: this is decision support. It does not replace the prescriber, the pharmacist, the "
    "manufacturer's instructions or local policy. It compares only what is written. A clear "
    "report does not mean that the order is right for this patient."
)
RUNNING = "Already running? Do not clamp, open or move the drain because of this report; call now"


AT = 1_772_482_200_000


def plain(verified, width=80, **options):
    return render_blocks(blocks(verified, AT), width=width, **options)


def unwrapped(text):
    """The text with its lines joined, for looking up sentences that may be wrapped."""
    return " ".join(text.split())


def test_the_whole_report():
    assert plain(FULL) == REPORT


# 1 mmHg = 1.35951 cmH2O (conventional mercury, 13.5951 g/mL): 2, 8, 14, 22 mmHg.
REPORT = """order.yaml: order demo-7, revision 2, status draft.

Verdict: DO NOT START – CALL
  Do not key in or start this order. Call, and have the points below settled
  first. Should it run already, change nothing before that call.
  3 rules could not be checked; the heaviest would be DO NOT START – CALL.

DO NOT START – CALL: Drain height (drainage.height)
  Irrigation starts above 8 mmHg; nothing drains by gravity until ICP is above
  14 mmHg.
  Ask the prescriber: Which of the two levels was meant?
  Written: 14 mmHg
  Would be consistent: a drain at or below the treat-above level
  Why: Until then each mL that runs in stays in.
  Source: follows from the order itself
  Place: order.yaml:10:20
  With: Treat-above level: 8 mmHg (order.yaml:9:14)
  Rule: drain-above-treat-above

And 5 more below: 3 DO NOT START – CALL, 1 CLARIFY, 1 NOTE.

The order in a picture
                     mmHg            cmH2O
                            │░░░░│   irrigation off, outflow possible by gravity
  Upper pause limit    22 ━━━━━━━━━━ 29.9
                            │▒▒▒▒│
                            │▒▒▒▒│   irrigation on, outflow possible by gravity
                            │▒▒▒▒│
  Drain height         14 ╌╌╌╌╌╌╌╌╌╌ 19.03
                            │████│   irrigation on, no outflow by gravity
                            │████│
  Treat-above level     8 ────────── 10.9
                            │····│   watching only
                            │····│
  Lower pause limit     2 ━━━━━━━━━━ 2.7
                            │××××│   all stopped; the low limit warns
  Heights in this picture are not to scale.

Missing from the order. Ask the prescriber to have these written:
  DO NOT START – CALL: Irrigation: irrigation rate, irrigation fluid
  DO NOT START – CALL: Notification: net-in notify volume
  CLARIFY: Order: prescriber

NOTE: Irrigation bag (irrigation.bag)
  Number and unit are run together.
  Written: 1000mL
  Why: A unit that is run together can be read as a digit.
  Source: a published list
  Place: order.yaml:11:3
  Rule: unit-run-together

What the controller would do with these settings, by ICP
  The controller shows mmHg, which stands first; the other is rounded. “From”
  and “up to” include the number itself; “above” and “below” do not.
  below 2 mmHg             below 2.7 cmH2O
      all stopped: irrigation off, drain valve closed; the low limit warns
  from 2 up to 8 mmHg      from 2.7 up to 10.9 cmH2O
      watching only: irrigation off, drain valve closed
  above 8 up to 14 mmHg    above 10.9 up to 19.03 cmH2O
      irrigation on, drain valve open, but no outflow by gravity: what runs in
      stays in
  above 14 up to 22 mmHg   above 19.03 up to 29.9 cmH2O
      irrigation on, drain valve open, outflow possible by gravity
  above 22 mmHg            above 29.9 cmH2O
      irrigation off, drain valve open, outflow possible by gravity
  This tool cannot see whether the drain is open, level or patent. Outflow by
  gravity is an assumption, made from the numbers written, with drain height and
  ICP zeroed at the same point.

Could not be checked
  For lack of irrigation rate (not written), hourly output limit (not written):
    2 rules, the heaviest DO NOT START – CALL: rule-a, rule-b.
  For lack of patient group (not written): 1 rule, NOTE: rule-c.

Rules that were not asked
  the policy gives no site.drain_scale: drain-height-outside-scale,
    another-rule.

What was checked
  order.yaml as an order, by the schema of orders (order, format 1) and 61
  rules, under “built-in policy”, as of 2026-03-02T20:10:00Z. Of a free text the
  notation is checked, and numbers and acts beside the settings that they name;
  never what it means.

Caution: this is decision support. It does not replace the prescriber, the
pharmacist, the manufacturer's instructions or local policy. It compares only
what is written. A clear report does not mean that the order is right for this
patient.
"""


@pytest.mark.parametrize(
    ("findings", "unchecked", "label"),
    [
        ((CROSSED, SPELLING), (), "DO NOT START – CALL"),
        ((missing("prescriber", "Prescriber", Level.CLARIFY),), UNCHECKED, "CLARIFY"),
        ((SPELLING,), UNCHECKED, "INCOMPLETE"),
        ((SPELLING,), (), "NOTE"),
        ((), (), "CLEAR"),
    ],
)
def test_the_verdict_stands_in_words(findings, unchecked, label):
    lines = plain(made(findings, unchecked)).splitlines()
    assert lines[2] == f"Verdict: {label}"
    assert lines[3].strip()


def test_silence_never_means_fine():
    text = unwrapped(plain(made()))
    assert "None of the rules asked found anything." in text
    assert "Every rule that was asked could be checked." in text
    assert "None was left out by the policy." in text
    assert "order.yaml as an order, by the schema of orders (order, format 1) and 61 rules" in text
    assert text.endswith(CAUTION)


@pytest.mark.parametrize(
    ("status", "opens"),
    [("active", True), ("draft", False), ("ended", False), ("actve", True), (None, True)],
)
def test_what_may_be_running_opens_with_what_not_to_do(status, opens):
    line = f"status: {status}\n" if status else ""
    verified = made((CROSSED,), settings=SETTINGS.replace("status: draft\n", line))
    assert unwrapped(plain(verified)).startswith(RUNNING) is opens


def test_a_running_order_with_anything_to_ask_opens_with_what_not_to_do():
    verified = made((SPELLING,), settings=SETTINGS.replace("draft", "active"))
    assert verified.assessment.verdict is Verdict.NOTE
    assert unwrapped(plain(verified)).startswith(RUNNING)
    assert "before starting" not in plain(verified)
    assert "keyed in" not in plain(verified)
    clear = made((), settings=SETTINGS.replace("draft", "active"))
    assert RUNNING not in unwrapped(plain(clear))


def test_a_setting_that_is_lacking_for_the_table_is_named_with_its_state():
    settings = SETTINGS.replace("treat_above: 8 mmHg", "treat_above: 8")
    text = unwrapped(plain(made(settings=settings)))
    assert "This cannot be said, for lack of: treat-above level (cannot be read)." in text
    assert "irrigation on" not in text


def test_the_unit_displayed_stands_first_and_the_other_is_rounded():
    settings = SETTINGS.replace("display_unit: mmHg", "display_unit: cmH2O").replace(
        "upper: 22 mmHg", "upper: 30 cmH2O"
    )
    lines = [unwrapped(line) for line in plain(made(settings=settings)).splitlines()]
    # 30 cmH2O / 1.35951 = 22.0668 mmHg.
    assert "above 30 cmH2O above 22.1 mmHg" in lines


def test_without_a_display_unit_that_is_said():
    text = unwrapped(plain(made(settings=SETTINGS.replace("display_unit: mmHg\n", ""))))
    assert "It is not known which unit the controller shows." in text


@pytest.mark.parametrize(
    ("settings", "outflow", "cause"),
    [
        (SETTINGS.replace("height: 14 mmHg, ", ""), "gravity", "lack of: drain height (not writ"),
        (SETTINGS, None, "how the drain empties at this site."),
    ],
)
def test_outflow_that_is_not_known_has_its_cause(settings, outflow, cause):
    text = unwrapped(plain(made(settings=settings, outflow=outflow)))
    assert "irrigation on, drain valve open, outflow not known" in text
    assert f"Outflow is not known because of {cause}" in text


def test_the_limits_of_monitoring_warn():
    text = plain(made(settings=SETTINGS.replace("therapy: irrigation", "therapy: monitoring")))
    assert "drain valve closed; the low limit warns" in text
    assert "drain valve closed; the high limit warns" in text
    assert "valve open" not in text


@pytest.mark.parametrize(
    ("path", "name", "heading"),
    [
        ("drainage.height", "Drain height", "Drain height (drainage.height)"),
        ("tretment", "tretment", "tretment"),
        ("", "", "The order as a whole"),
    ],
)
def test_a_finding_is_headed_by_what_it_is_about(path, name, heading):
    text = plain(made((CROSSED._replace(path=path, name=name),)))
    assert f"DO NOT START – CALL: {heading}" in text.splitlines()


def test_a_level_at_one_pressure_only_is_exact():
    settings = SETTINGS.replace("treat_above: 8", "treat_above: 2")
    text = plain(made(settings=settings))
    assert "  exactly 2 mmHg " in text


@given(st.integers(-50, 200))
def test_lines_keep_to_the_width_and_quantities_whole(width):
    text = plain(FULL, width=width)
    most = max(width, 40)
    # A word that cannot be broken, such as a rule's id, may stand out on a line of its own.
    assert all(len(line) <= most or len(line.split()) == 1 for line in text.splitlines())
    assert not re.search(r"\d\n *(mmHg|cmH2O|mL)", text)


def test_at_80_columns_every_line_fits():
    assert max(map(len, plain(FULL).splitlines())) <= 80


def test_colour_is_only_added():
    colored = plain(FULL, color=True)
    assert re.sub(r"\x1b\[\d*m", "", colored) == plain(FULL)
    # Priority colours of IEC 60601-1-8: high red (31), medium yellow (33), low cyan (36).
    assert set(re.findall(r"\x1b\[(\d+)m([^\x1b]+)\x1b\[0m", colored)) == {
        ("31", "DO NOT START – CALL"),
        ("33", "CLARIFY"),
        ("36", "NOTE"),
    }


def test_a_clear_report_has_no_colour():
    assert plain(made(), color=True) == plain(made())


@pytest.mark.parametrize("hidden", ["\x1b[2J", "\u202e", "\u200b", "\x9b", "\udc80", "\n", "\r"])
def test_what_hides_in_a_text_is_made_visible(hidden):
    verified = made((CROSSED,), UNCHECKED, INACTIVE, file=f"or{hidden}der.yaml")
    text = plain(verified) + render_unread(Unread(f"or{hidden}der.yaml", "no such file"), width=80)
    shown = f"or\\u{{{ord(hidden[0]):04X}}}{hidden[1:]}der.yaml"
    # Its document line, what was checked, and the other file.
    assert text.count(shown) == 3
    assert not set(hidden[0]) & set(text.replace("\n", "")) - {"\n"}


def test_a_file_that_was_not_checked_says_so():
    assert render_unread(Unread("a.yaml", "The file is empty."), width=80) == (
        "NOT CHECKED. a.yaml: The file is empty.\n"
    )
