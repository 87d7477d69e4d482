"""What free texts name is put beside the settings: the same, not checked, or asked about."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orderlint.mention_check import faults as mention_check
from orderlint.mentions.reader import mentions_in
from orderlint.order import INSTRUCTING_TEXTS
from orderlint.reading.unsafe_notation import quote_around
from orderlint.report.visible_text import safe
from orderlint.verification import verify

HEAD = "document: order\nformat: 1\n"
RULES = {"text-number-differs", "text-asks-for-act", "text-orders-otherwise"}


def verified(data: str):
    return verify((HEAD + data).encode(), "order.yaml", 0)


def asked(data: str) -> list[str]:
    return [f.rule for f in verified(data).assessment.findings if f.rule in RULES]


def paths(data: str) -> list[str]:
    return [item.path for item in verified(data).not_checked]


@pytest.mark.parametrize(
    ("setting", "fits"),
    [
        ("10 cmH2O", True),
        ("10", True),
        ("10 cm", True),
        ("7 mmHg", True),  # 7.36, to the mmHg
        ("7.4 mmHg", True),
        ("7.3 mmHg", False),
        ("8 mmHg", False),
        ("10 mmHg", False),
        ("10.1 cmH2O", False),
        ("10.0 cmH2O", True),
        ("9", False),
        ("10 kPa", False),
        ("1" * 40, False),
    ],
)
def test_a_level_fits_in_either_unit_to_its_own_last_digit(setting, fits):
    found = asked(f"drainage: {{height: 10 cmH2O}}\ninstructions: keep the drain at {setting}\n")
    assert (found == []) is fits


@pytest.mark.parametrize(
    ("rate", "fits"),
    [("1 mL/min", True), ("60 ml/hr", True), ("60", True), ("1", False), ("2 mL/min", False)],
)
def test_a_rate_is_compared_exactly(rate, fits):
    found = asked(f"irrigation: {{rate: 60 mL/h}}\ninstructions: run at {rate}\n")
    assert (not found) is fits


def test_what_runs_is_the_rate_and_at_most_the_titration_maximum():
    data = "irrigation: {rate: 40 mL/h}\ntitration: {step: 10 mL/h, max: 60 mL/h}\ninstructions: "
    assert asked(f"{data}run at 60 mL/h\n") == ["text-number-differs"]
    assert asked(f"{data}run at 40 mL/h, up to 60 mL/h\n") == []
    assert asked(f"{data}raise the rate by 10 mL/h\n") == []
    assert asked(f"{data}double the rate\n") == ["text-asks-for-act"]


@pytest.mark.parametrize("text", ["output < 5 mL/h", "drain output below 5 mL/h"])
def test_a_lower_bound_of_the_output_is_no_hourly_limit(text):
    data = f"drainage: {{hourly_max: 20 mL/h}}\nnotify: {{events: {text}}}\n"
    assert (asked(data), paths(data)) == ([], ["notify.events"])


def test_a_number_is_asked_about_where_its_setting_is_left_out():
    assert asked("therapy: drainage\ninstructions: irrigate at 40 mL/h\n") == [
        "text-number-differs"
    ]
    assert asked("notify: {events: CPP below 60}\n") == []


def test_a_number_beside_an_unreadable_setting_is_not_asked_about():
    data = "irrigation: {rate: many}\ninstructions: run at 40 mL/h\n"
    assert asked(data) == []
    assert paths(data) == ["instructions"]


def test_the_words_of_a_finding():
    data = "irrigation: {rate: 40 mL/h}\nstop_when: |\n  Run at 60 mL/h.\n  Clamp at night.\n"
    number, act = (f for f in verified(data).assessment.findings if f.rule in RULES)
    assert number.says == (
        "In the stopping criterion stands “Run at 60 mL/h”, and the settings say otherwise: "
        "irrigation rate 40 mL/h."
    )
    assert str(number.place) == "order.yaml:5:10"
    assert act.ask == (
        "Is “Clamp at night” meant, and if so when, how far or how long, and by whom?"
    )
    assert str(act.place) == "order.yaml:6:3"
    assert {number.ask_whom, act.ask_whom} == {"prescriber"}


def test_several_places_of_a_text_are_one_finding():
    data = f"instructions: '{'; '.join(f'clamp on day {n}' for n in range(5))}'\n"
    (found,) = (f for f in verified(data).assessment.findings if f.rule in RULES)
    assert found.says.endswith(" and 2 more.")


def test_the_texts_that_are_not_checked_are_whole_and_have_their_place():
    text = "keep the drain open, " * 30
    data = f"notify: {{events: fever}}\ninstructions: {text}\n"
    (item,) = verified(data).not_checked
    assert item.text == text.strip()
    assert (item.name, str(item.place)) == ("Instructions", "order.yaml:4:15")


@pytest.mark.parametrize("path", INSTRUCTING_TEXTS)
@pytest.mark.parametrize(
    "text",
    ["call before any change of the drain height", "leak", "drained fluid clear on two checks"],
)
def test_a_text_that_names_nothing_draws_nothing(path, text):
    section, _, key = path.rpartition(".")
    data = f"{section}: {{{key}: {text}}}\n" if section else f"{key}: {text}\n"
    is_call = text.startswith("call")
    listed = [] if path != "instructions" or is_call else ["instructions"]
    assert (asked(data), paths(data)) == ([], listed)


TRANSPORT = "transport: {drain: clamp, clamp_max: 30 min}\n"


@pytest.mark.parametrize(
    ("text", "is_quiet"),
    [
        ("clamp for transport", True),
        ("For suctioning, clamp the drain.", True),
        ("clamp for transport, at most 30 min, then unclamp", True),
        ("clamp for transport, at most 15 min", False),
        ("clamp for transport, at most half an hour", False),
        ("clamp for transport, at most 1 h", False),
        ("clamp for transport and at night", False),
        ("clamp at night and for transport", False),
        ("clamp after transport", False),
        ("keep the drain open during transport", False),
    ],
)
def test_clamping_for_transport_is_quiet_where_it_agrees(text, is_quiet):
    data = f'{TRANSPORT}instructions: "{text}"\n'
    assert (not asked(data) and not paths(data)) is is_quiet


@given(st.text(max_size=80), st.sampled_from(["clamp ", "run at 9 mL/h ", ""]))
def test_any_text_is_checked_and_quoted_safely(text, before):
    said = safe(before + text).replace("'", "''").replace("\n", " ")
    data = f"instructions: '{said}'\n"
    for finding in verified(data).assessment.findings:
        assert "\x1b" not in safe(finding.says)
        assert "\n" not in finding.says


@given(st.lists(st.sampled_from(["clamp the drain", "x", "x" * 40, " ", ". ", ", "]), max_size=30))
def test_a_quote_is_that_of_the_whole_sentence(pieces):
    text = "".join(pieces)
    for mention in mentions_in(text):
        begin, end = mention.sentence
        start = mention.offset - begin
        whole = quote_around(text[begin:end], start, start + mention.length, mention_check.AROUND)
        assert mention_check._quote(text, mention) == whole


@pytest.mark.parametrize(
    ("text", "is_asked"),
    [
        ("EVD stays clamped.", False),
        ("close the drain", False),
        ("Do not open the EVD without calling", False),
        ("open the drain if ICP stays high", True),
        ("unclamp for sampling", True),
    ],
)
def test_where_the_drain_is_to_stay_closed_opening_it_is_asked_about(text, is_asked):
    assert asked(f"therapy: monitoring\ninstructions: {text}\n") == ["text-asks-for-act"] * is_asked


@pytest.mark.parametrize(
    ("text", "is_asked"),
    [
        ("If clamped at the limit call at once.", False),
        ("call if the drain is clamped", False),
        ("if high clamp and call", True),
    ],
)
def test_what_has_happened_when_somebody_is_called_is_no_act(text, is_asked):
    assert asked(f"therapy: drainage\ninstructions: {text}\n") == ["text-asks-for-act"] * is_asked


@pytest.mark.parametrize(
    "text",
    [
        "go to 130 mL/hr",
        "after 2 hr set 180 mL/h",
        "rate 60 mL/hr then 180 mL/hr",
        "if fever go to 180 mL/h",
        "if GCS falls 180 mL/h",
        "day 180 mL/h",
    ],
)
def test_a_rate_is_not_that_of_what_has_none(text):
    """An hour is no heart rate, and a fever does not run in mL/h."""
    assert asked(f"irrigation: {{rate: 60 mL/h}}\ninstructions: {text}\n") == [
        "text-number-differs"
    ]


@pytest.mark.parametrize("text", ["IV fluids 180 mL/h", "call if urine 200 mL/h", "HR 60"])
def test_a_rate_of_something_else_is_quiet(text):
    assert asked(f"irrigation: {{rate: 60 mL/h}}\ninstructions: {text}\n") == []


def test_what_stands_in_another_quote_is_not_quoted_by_itself():
    text = "Bolus 20 mL at start, then irrigate with sterile water. Never monitor ICP at night."
    assessed = verified(f"instructions: {text}\n").assessment
    (said,) = (f.says for f in assessed.findings if f.rule == mention_check.ACT_RULE)
    assert said.endswith(
        "limits: “Bolus 20 mL at start, then irrigate with sterile water”, "
        "“Never monitor ICP at night”."
    )
