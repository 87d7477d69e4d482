"""A set that is badly written: all that is wrong is told in one run, at its line and column."""

from __future__ import annotations

import pytest
from each_case import of_each
from order_sets import HEAD, order_set, rules, whole
from rule_files import MARK, place_of_mark

from orderlint.finding import Refused
from orderlint.order import State
from orderlint.order_set.steps import MOST_OPTIONS

NOT = "set-entry-not-understood"
GATED = "titration: {shown_when: treat_above > low, limits: LIMITS, goal: x}"


def one_fault(text):
    """The one fault of a file, at the very place of the mark in it."""
    made = whole(text.replace(MARK, "", 1))
    (fault,) = made.faults
    assert fault.place == place_of_mark(text, "set.yaml")
    return made, fault


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("§document: order-set\nformat: 1\n", "`order:` is missing"),
        ("document: order-set\nformat: 1\norder:§\n", "`order:` is missing"),
        ('document: order-set\nformat: 1\norder: §""\n', "`order:` is missing"),
        ("document: order-set\nformat: 1\norder: §[a]\n", "settings with names"),
        ("document: order-set\nformat: 1\norder: §a text\n", "settings with names"),
        ("document: §order\nformat: 1\n", "This is an order; an order set is wanted here."),
        ("document: order-set\nformat: §2\norder: {}\n", "It must be 1"),
        (HEAD + "  §treat_above: 8 mmHg\n  treat_above: 9 mmHg\n", "twice"),
    ],
)
def test_what_is_no_order_set_is_refused_with_its_place(text, message):
    with pytest.raises(Refused) as caught:
        whole(text.replace(MARK, "", 1))
    assert message in caught.value.message
    assert place_of_mark(text, "set.yaml") in {caught.value.place, caught.value.also}


ENTRIES = {
    "two forms": (
        "treat_above: {choose: [8 mmHg], §from: 8 mmHg}",
        "choose: and from: do not stand",
    ),
    "a fixed value with options": (
        "treat_above: {fixed: 8 mmHg, §choose: [8 mmHg]}",
        "fixed: and choose: do not stand in one entry",
    ),
    "a preset of a blank": (
        "indication: {blank: required, label: x, §preset: y}",
        "blank: and preset: do not stand in one entry",
    ),
    "a label of a choice": (
        "access: {choose: [lumbar], §label: x}",
        "choose: and label: do not stand in one entry",
    ),
    "a key that no entry has": (
        "access: {choose: [lumbar], §prest: lumbar}",
        "an entry has no key prest; did you mean preset?",
    ),
    "no form": ("access: §{shown_when: drains}", "it has none of fixed, choose, from or blank"),
    "a preset alone": ("access: §{preset: lumbar}", "it has none of fixed, choose, from or blank"),
    "nothing at all": ("access: §{}", "it has none of fixed"),
    "a list": ("access: §[lumbar]", "a list stands here"),
    "a fixed list": ("access: {fixed: §[lumbar]}", "fixed: is one value"),
    "a fixed nothing": ('access: {fixed: §""}', "fixed: is one value, and not empty"),
    "a choice of one word": ("access: {choose: §lumbar}", "choose: is a list"),
    "a choice of nothing": ("access: {choose: §[]}", "choose: is a list of one option or more"),
    "an option that is a list": ("access: {choose: [lumbar, §[other]]}", "an option of choose:"),
    "an empty option": ("access: {choose: [lumbar, §~]}", "an option of choose: is one value"),
    "a preset that is a list": ("access: {choose: [lumbar], preset: §[lumbar]}", "preset: is one"),
    "an empty preset": ('access: {choose: [lumbar], preset: §""}', "preset: is one value"),
    "a blank that is neither": ("indication: {blank: §perhaps, label: x}", "required or optional"),
    "a blank that is a list": ("indication: {blank: §[required], label: x}", "blank: is one value"),
    "a label that is a list": ("indication: {blank: required, label: §[x]}", "label: is one value"),
    "no to": ("treat_above: §{from: 8 mmHg, step: 1 mmHg}", "to: is missing"),
    "no step": ("treat_above: §{from: 8 mmHg, to: 9 mmHg}", "step: is missing"),
    "no from": ("treat_above: §{to: 9 mmHg, step: 1 mmHg}", "from: is missing"),
    "a blank without a step": (
        "treat_above: §{blank: required, label: x, from: 8 mmHg, to: 9 mmHg}",
        "step: is missing",
    ),
    "from a list": (
        "treat_above: {from: §[8 mmHg], to: 9 mmHg, step: 1 mmHg}",
        "from: is a number",
    ),
    "from over to": (
        "treat_above: {from: 9 mmHg, to: §8 mmHg, step: 1 mmHg}",
        "to: is below from:, 9",
    ),
    "no step at all": (
        "treat_above: {from: 8 mmHg, to: 9 mmHg, step: §0 mmHg}",
        "more than nothing",
    ),
    "a step backwards": (
        "treat_above: {from: 9 mmHg, to: 8 mmHg, step: §-1 mmHg}",
        "more than nothing",
    ),
    "a step that does not reach": (
        "treat_above: {from: 8 mmHg, to: §10.5 mmHg, step: 1 mmHg}",
        "the steps do not reach it: the last below it is 10",
    ),
    "to in another unit": (
        "treat_above: {from: 8 mmHg, to: §13 cmH2O, step: 1 mmHg}",
        "this is in cmH2O, and from: is in mmHg",
    ),
    "step in another unit": (
        "treat_above: {from: 8 mmHg, to: 13 mmHg, step: §1 cmH2O}",
        "this is in cmH2O, and from: is in mmHg",
    ),
    "too many": (
        "treat_above: {from: 0 mmHg, to: 10 mmHg, step: §0.01 mmHg}",
        "these are 1,001 values, and 1,000 are the most",
    ),
    "choices from one to another": (
        "access: {from: §lumbar, to: other, step: 1}",
        "only a number with a unit",
    ),
    "an additive to be written in one word": (
        "irrigation: {additive: {blank: §required, label: Additive}}",
        "only the word none can be written here; blanks are for its name, concentration, class",
    ),
    "an instant in steps": (
        "starts: {blank: required, label: x, to: §2026-03-02T15:00:00Z}",
        "only a number with a unit",
    ),
    "a section of one value": ("pause: §22 mmHg", "it is a group of settings"),
    "a section that is a list": ("pause: §[22 mmHg]", "it is a group of settings"),
    "offered without a preset": ("titration: {offered: §{}, goal: x}", "preset: in or preset: out"),
    "offered by one word": ("titration: {offered: §in, goal: x}", "preset: in or preset: out"),
    "offered otherwise": ("titration: {offered: {preset: §yes}, goal: x}", "preset: in"),
    "offered with a key too many": (
        "titration: {offered: {preset: in, §label: x}, goal: x}",
        "offered: has no key label",
    ),
    "a misspelt condition of a section": (
        "titration: {§shown_wen: drains, goal: x}",
        "there is no shown_wen:; did you mean shown_when:?",
    ),
    "the kind of document in the order": (
        "§document: order",
        "document: stands on top of the file, and not under order:",
    ),
    "a condition that is a list": ("titration: {shown_when: §[drains], goal: x}", "one condition"),
    "an empty condition": ('titration: {shown_when: §"", goal: x}', "one condition, and not empty"),
    "a condition on nothing known": (
        "titration: {shown_when: drains and given(§titration.gaol), goal: x}",
        "there is no field titration.gaol; did you mean titration.goal?",
    ),
    "a condition that does not end": (
        "titration: {shown_when: drains and§, goal: x}",
        "this does not read as a condition",
    ),
    "a condition on the policy": (
        "titration: {shown_when: treat_above > §site.window_min, goal: x}",
        "a set is the same everywhere: it reads no policy",
    ),
    "a condition on the time": (
        "titration: {shown_when: §checked_at > written, goal: x}",
        "a set is the same whoever signs and when: it reads no fact of signing",
    ),
    "a condition on a fact of signing": (
        "titration: {shown_when: drains and given(§zone), goal: x}",
        "a set is the same whoever signs and when: it reads no fact of signing",
    ),
    "a condition on a spelling": (
        "titration: {shown_when: \"§written(stop_when, 'trailing zero')\", goal: x}",
        "what is shown cannot hang on how a setting is spelt",
    ),
    "a condition on a choice that is none": (
        "titration: {shown_when: therapy == §'ventilation', goal: x}",
        "'ventilation' is not one of",
    ),
    "a condition of pressure and volume": (
        "titration: {shown_when: §treat_above > irrigation.bag, goal: x}",
        "a volume cannot stand beside a pressure",
    ),
    "a condition of pressure and a number": (
        "titration: {shown_when: §treat_above > 8, goal: x}",
        "beside a pressure; a name under limits: can hold a number with its unit",
    ),
    "a condition with a unit in it": (
        "titration: {shown_when: irrigates and treat_above > §8 mmHg, goal: x}",
        "without a unit in a condition; a name under limits: can hold",
    ),
    "a condition with a quantity in quotes": (
        "titration: {shown_when: \"treat_above == §'8 mmHg'\", goal: x}",
        "what is quoted is a choice; a name under limits: can hold",
    ),
    "limits of a section without a condition": (
        "titration: {limits: §{low: 8 mmHg}, goal: x}",
        "limits: has numbers for shown_when:, and there is none beside it",
    ),
    "limits of a setting without a condition": (
        "treat_above: {fixed: 8 mmHg, limits: §{low: 8 mmHg}}",
        "limits: has numbers for shown_when:, and there is none beside it",
    ),
    "limits that are a text": (GATED.replace("LIMITS", "§8 mmHg"), "limits: has names, each"),
    "limits that are empty": (GATED.replace("LIMITS", "§{}"), "limits: has names, each"),
    "a limit that is a list": (GATED.replace("LIMITS", "{low: §[8 mmHg]}"), "low: is one number"),
    "a limit that is empty": (GATED.replace("LIMITS", "{low: §~}"), "low: is one number with its"),
    "a limit without a unit": (GATED.replace("LIMITS", "{low: §8}"), "'8' has no unit"),
    "a limit in an unknown unit": (GATED.replace("LIMITS", "{low: §8 torr}"), "'8 torr'"),
    "a limit that has the name of a setting": (
        GATED.replace("LIMITS", "{low: 8 mmHg, §pause: 9 mmHg}"),
        "pause is the name of something else",
    ),
    "a limit that has the name of a fact": (
        GATED.replace("LIMITS", "{low: 8 mmHg, §irrigates: 9 mmHg}"),
        "irrigates is the name of something else",
    ),
    "a limit whose name is none": (
        GATED.replace("LIMITS", "{low: 8 mmHg, §Low: 8 mmHg}"),
        "Low is no name",
    ),
    "a limit that is not read": (
        GATED.replace("LIMITS", "{low: 8 mmHg, §high: 9 mmHg}"),
        "shown_when: does not read the limit high",
    ),
    "a limit of another dimension": (
        "titration: {shown_when: §treat_above > low, limits: {low: 8 mL}, goal: x}",
        "a volume cannot stand beside a pressure",
    ),
    "a misspelt limit": (
        "titration: {shown_when: treat_above > §loww, limits: {low: 8 mmHg}, goal: x}",
        "there is no field loww; did you mean low?",
    ),
    "misspelt limits": (
        "titration: {shown_when: drains, §limts: {low: 8 mmHg}, goal: x}",
        "there is no limts:; did you mean limits:?",
    ),
    "misspelt limits of a setting": (
        "treat_above: {fixed: 8 mmHg, shown_when: drains, §limts: {low: 8 mmHg}}",
        "an entry has no key limts; did you mean limits?",
    ),
    "a condition that is an amount": (
        "titration: {shown_when: §treat_above, goal: x}",
        "neither true",
    ),
}


@of_each("case", ENTRIES)
def test_an_entry_that_is_not_understood_is_a_finding_at_its_place(case):
    entry, message = ENTRIES[case]
    made, fault = one_fault(f"{HEAD}  {entry}\n")
    assert fault.rule == NOT
    assert message in fault.details["reason"]
    assert made.unsettled == (fault,)


def test_each_mistake_in_the_limits_is_told():
    made = order_set(GATED.replace("LIMITS", "{low: 8, High: 9 mmHg, other: [9 mmHg]}"))
    assert rules(made.faults) == [NOT] * 3
    assert made.gates == ()


def test_a_condition_in_a_block_is_found_at_its_character():
    _, fault = one_fault(
        HEAD + "  titration:\n    goal: x\n    shown_when: >\n      drains and\n      §irigates\n"
    )
    assert fault.rule == NOT


@pytest.mark.parametrize(
    "entry",
    [
        "treat_above: {choose: 8 mmHg}",
        "treat_above: [8 mmHg]",
        "treat_above: {from: 9 mmHg, to: 8 mmHg, step: 1 mmHg}",
        "treat_above: {blank: perhaps}",
    ],
)
def test_of_an_entry_that_is_not_understood_no_more_is_known_than_that_it_is_there(entry):
    (leaf,) = order_set(entry).slots["treat_above"].options
    assert leaf.state is State.UNREADABLE


def test_options_beside_a_key_too_many_are_read_all_the_same():
    made = order_set("access: {choose: [lumbar, other], prest: lumbar}")
    assert [leaf.value for leaf in made.slots["access"].options] == ["lumbar", "other"]
    assert made.unsettled


LEAVES = {
    "no unit": ("treat_above: {choose: [8 mmHg, §8]}", "unit-missing"),
    "another dimension": ("treat_above: §8 mL", "unit-of-wrong-kind"),
    "an unknown choice": ("access: {fixed: §brow}", "choice-not-known"),
    "a word that is a truth value": ("indication: §true", "kind-not-expected"),
    "a fluid that is a number": ("irrigation: {fluid: {choose: [§0.9]}}", "kind-not-expected"),
    "a count in quotes": ('revision: §"1"', "kind-not-expected"),
    "a number that is none": ("irrigation: {rate: {choose: [§1e3 mL/h]}}", "number-form-unsafe"),
}


@pytest.mark.parametrize("case", LEAVES)
def test_an_option_that_does_not_read_is_unreadable_and_its_fault_is_kept(case):
    entry, rule = LEAVES[case]
    made, fault = one_fault(f"{HEAD}  {entry}\n")
    assert (fault.rule, fault.spoils) == (rule, (fault.path,))
    assert made.unsettled == ()  # it is known what can be signed: a text that does not read
    (odd,) = (x for x in made.slots[fault.path].options if x.state is State.UNREADABLE)
    assert odd.place == fault.place


@pytest.mark.parametrize(
    ("entry", "rule"),
    [
        ("treat_above: {from: §8 mL, to: 9 mmHg, step: 1 mmHg}", "unit-of-wrong-kind"),
        ("treat_above: {from: 8 mmHg, to: §9, step: 1 mmHg}", "unit-missing"),
        ("treat_above: {from: 8 mmHg, to: 9 mmHg, step: §0.001 mmHg}", "number-too-fine"),
        ("treat_above: {from: 8 mmHg, to: §900 mmHg, step: 1 mmHg}", "value-not-conceivable"),
    ],
)
def test_an_end_that_does_not_read_leaves_the_options_open(entry, rule):
    made, fault = one_fault(f"{HEAD}  {entry}\n")
    assert fault.rule == rule
    assert made.unsettled == (fault,)


def test_as_many_options_as_can_be_picked_from():
    most = ", ".join(["lumbar"] * MOST_OPTIONS)
    assert order_set(f"access: {{choose: [{most}]}}").faults == ()
    assert rules(order_set(f"access: {{choose: [{most}, lumbar]}}").faults) == [NOT]


@pytest.mark.parametrize(
    ("entries", "path", "spoilt"),
    [
        ("§treatabove: 8 mmHg", "treatabove", "treat_above"),
        ("pause: {§uper: {choose: [20 mmHg]}}", "pause.uper", "pause.upper"),
        ("§irigation: {rate: {blank: optional}}", "irigation", "irrigation.rate"),
        ("§shown_when: drains", "shown_when", None),
    ],
)
def test_a_key_that_no_order_has_is_found_and_spoils_what_it_means(entries, path, spoilt):
    made, fault = one_fault(f"{HEAD}  {entries}\n")
    assert (fault.rule, fault.path) == ("key-not-known", path)
    assert made.unsettled == (fault,)
    if spoilt:
        assert [leaf.state for leaf in made.slots[spoilt].options] == [State.UNREADABLE]


def test_what_a_misspelt_key_means_is_not_spoilt_where_it_is_written():
    made = order_set("treat_above: {choose: [8 mmHg]}\ntreatabove: 9 mmHg")
    assert [leaf.text for leaf in made.slots["treat_above"].options] == ["8 mmHg"]


@pytest.mark.parametrize(
    ("entries", "circular", "kept"),
    [
        ("stop_when: {fixed: x, shown_when: given(stop_when)}", ["stop_when"], []),
        ("titration: {shown_when: given(titration.goal), goal: x}", ["titration"], []),
        (
            "titration: {shown_when: given(position), goal: x}\n"
            "position: {shown_when: given(transport), head_up: 30 deg}\n"
            "transport: {shown_when: given(titration.goal), drain: clamp}\n"
            "stop_when: {fixed: x, shown_when: given(transport.drain)}\n"
            "instructions: {fixed: x, shown_when: irrigates}",
            ["titration", "position", "transport"],
            ["stop_when", "instructions"],
        ),
    ],
)
def test_conditions_that_lead_back_are_found_and_those_beside_them_kept(entries, circular, kept):
    made = order_set(entries)
    assert [fault.path for fault in made.faults] == circular
    assert {*rules(made.faults)} == {"shown-when-cycle"}
    assert made.unsettled == made.faults
    assert [gate.path for gate in made.gates] == kept


def test_a_circle_stands_at_its_condition_and_names_who_takes_part():
    first, second = order_set(
        "titration: {shown_when: given(position), goal: x}\n"
        "position: {shown_when: given(titration), head_up: 30 deg}"
    ).faults
    assert (first.place.line, first.place.column) == (10, 27)
    assert first.details["through"] == ", by way of the position"
    assert second.details["through"] == ", by way of the titration"


HEADS = {
    "an unknown key": ("title:", "§ownr: x\ntitle:", "key-not-known"),
    "a title that is a list": ("title: an invented set", "title: §[a]", "kind-not-expected"),
    "an owner that is a section": (
        "owner: an invented committee",
        "owner: §{of: a committee}",
        "kind-not-expected",
    ),
    "a date that is none": ("review_due: 2027-02-01", "review_due: §soon", "kind-not-expected"),
    "a date that does not exist": (
        "review_due: 2027-02-01",
        "review_due: §2027-02-30",
        "kind-not-expected",
    ),
    "a time without offset": (
        "review_due: 2027-02-01",
        "review_due: §2027-02-01T12:00:00",
        "kind-not-expected",
    ),
    "an unknown group": ("population: adult", "population: §grown-ups", "choice-not-known"),
    "an unknown group in a list": (
        "population: adult",
        "population: [adult, §grown-ups]",
        "choice-not-known",
    ),
    "a group that is a list": (
        "population: adult",
        "population: [adult, §[]]",
        "kind-not-expected",
    ),
    "a section of groups": (
        "population: adult",
        "population: §{group: adult}",
        "kind-not-expected",
    ),
}


@pytest.mark.parametrize("case", HEADS)
def test_a_fact_on_top_that_does_not_read_leaves_the_order_settled(case):
    old, new, rule = HEADS[case]
    made, fault = one_fault(f"{HEAD.replace(old, new, 1)}  therapy: drainage\n")
    assert fault.rule == rule
    assert made.unsettled == ()


def test_all_that_is_wrong_is_told_in_one_run_by_place():
    made = order_set(
        "treat_above: {choose: 8 mmHg}\n"
        "pause: {uper: 22 mmHg, lower: 2}\n"
        "access: {choose: [lumbar], preset: other}\n"
        "titration: {shown_when: given(titration), goal: x}"
    )
    assert rules(made.faults) == [
        NOT,
        "key-not-known",
        "unit-missing",
        "preset-outside-options",
        "shown-when-cycle",
    ]
    assert [fault.place.line for fault in made.faults] == [10, 11, 11, 12, 13]


@pytest.mark.parametrize(
    ("entry", "options"),
    [
        ("{choose: [8 mmHg], preset: 9 mmHg}", ["8 mmHg", "9 mmHg"]),
        ("{choose: [8 mmHg], preset: 8}", ["8 mmHg", "8"]),
        ("{from: 8 mmHg, to: 9 mmHg, step: 1 mmHg, preset: 10.8 cmH2O}", None),
    ],
)
def test_a_preset_that_is_no_option_stands_there_all_the_same(entry, options):
    made = order_set(f"treat_above: {entry}")
    assert rules(made.faults) == ["preset-outside-options"]
    read = made.slots["treat_above"]
    assert [leaf.text for leaf in read.options] == (options or ["8 mmHg", "9 mmHg", "10.8 cmH2O"])
    assert read.preset == len(read.options) - 1
    assert made.unsettled == ()
