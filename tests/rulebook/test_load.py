"""A mistake in a record is refused at its line and column, in plain words."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from rule_files import DERIVED, SOURCES, family, files, only, policy, record, refused, rulebook

from orderlint.finding import Level, Refused
from orderlint.reading import read
from orderlint.rulebook.build import build_rulebook
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import CodeRule, Rulebook
from orderlint.rulebook.source_documents import KeptRules, shipped_files

POLICIES = sorted((Path(__file__).parents[2] / "examples").glob("policy-*.yaml"))
NEEDED = ("rule", "level", "require", "says", "why", "ask", "ask_whom", "source")


def test_a_good_record_is_a_rule_with_all_it_says():
    rule = only(record(expected="two limits", leads="pause", examples="{passes: [{}]}"))
    assert (rule.id, rule.family, rule.level) == ("demo", "demo", Level.CLARIFY)
    assert (rule.expected, rule.why, rule.main_path) == ("two limits", "There is no band.", "pause")
    assert (rule.ask, rule.ask_whom) == ("What is meant?", "prescriber")
    assert [source.text for source in rule.sources] == ["follows from the order itself"]
    assert (rule.place.file, rule.place.line) == ("demo.yaml", 5)
    assert rule.examples is not None
    assert rule.instances[0].paths == ("pause.lower", "pause.upper")


def test_a_rulebook_names_its_policy_and_how_the_fluid_leaves():
    made = rulebook(record())
    assert (made.policy, made.outflow) == ("demo policy", "gravity")
    assert rulebook(record(), values=policy(outflow=None)).outflow is None


@pytest.mark.parametrize("key", NEEDED)
def test_a_record_lacks_nothing_that_a_finding_needs(key):
    lacking = record(**{key: None}).replace("  - ", "  - §", 1)
    assert refused(lacking) == f"{key}: is missing"


@pytest.mark.parametrize("value", ["§", '§""', "§[a, b]", "§{a: b}", "§~"])
@pytest.mark.parametrize("key", [*NEEDED[:-1], "expected", "when", "assumes", "leads", "found_by"])
def test_each_is_one_text(key, value):
    # Where nothing stands, the place is the end of the key.
    text = record(**{key: value}).replace(f"{key}: §\n", f"{key}:§\n")
    assert refused(text) == f"{key}: is one text, and not empty"


KEYS = {
    "a key that no rule has": ({"§requires": "pause.lower < pause.upper"}, "a rule has no key"),
    "a level that is none": ({"level": "§urgent"}, "level: is one of: do-not-start, clarify, note"),
    "somebody who is not asked": (
        {"ask_whom": "§nurse"},
        "ask_whom: is one of: prescriber, pharmacy, second nurse, transcriber, author",
    ),
    "a finder that is none": (
        {"found_by": "§eyes", "require": None},
        "found_by: is one of: reading, schema, units, set, proof, readback, compare, policy",
    ),
    "a condition beside a finder": (
        {"found_by": "units", "require": None, "§when": "irrigates"},
        "a rule with found_by: has no key when",
    ),
    "an id that is none": ({"rule": "§Demo rule"}, "Demo rule is no id"),
    "an id without its path": ({"rule": "§missing-{it}"}, "missing-{it} is no id"),
    "examples in a list": ({"examples": "§[]"}, "examples: is a section"),
    "covers that are one word": ({"covers": "§demo"}, "covers: is a list"),
    "covers that are none": ({"covers": "§[]"}, "covers: is a list of one text or more"),
    "covers that are sections": ({"covers": "[§{a: b}]"}, "covers: is a list of texts"),
    "a setting to lead with that is none": (
        {"leads": "§pause.uper"},
        "there is no field pause.uper; did you mean pause.upper?",
    ),
}


@pytest.mark.parametrize("case", KEYS)
def test_a_wrong_key_or_value_is_refused(case):
    changes, message = KEYS[case]
    assert message in refused(record(**changes))


SOURCE = {
    "one word": ("§logic", "source: is a section with keys of its own"),
    "an empty list": ("§[]", "source: is missing"),
    "a kind that is none": (
        "{kind: §hearsay}",
        "a kind of source is one of: logic, common-practice, local-policy, published",
    ),
    "no kind": ("§{note: adults}", "kind: is missing"),
    "a key that is none": ("{kind: logic, §page: 3}", "a source has no key page"),
    "published without a cite": (
        "§{kind: published}",
        "a published source, and no other, has a cite",
    ),
    "a cite with a kind that has none": (
        "{kind: logic, cite: §handbook}",
        "a published source, and no other, has a cite",
    ),
    "a cite of nothing": ("{kind: published, cite: §hand-book}", "there is no source hand-book"),
    "the second of two": ("[{kind: logic}, {kind: §lore}]", "a kind of source is one of"),
}


@pytest.mark.parametrize("case", SOURCE)
def test_a_wrong_source_is_refused(case):
    text, message = SOURCE[case]
    assert message in refused(record(source=text))


def test_sources_are_shown_in_words_with_their_notes():
    listed = "[{kind: published, cite: handbook, note: adults}, {kind: common-practice}]"
    texts = [source.text for source in only(record(source=listed)).sources]
    assert texts == [
        "An invented handbook, 3rd ed. (adults)",
        "common practice, no published source",
    ]


def test_a_catalogue_holds_texts():
    assert "is one text" in refused(sources=SOURCES + "  other: §[a]\n")


@pytest.mark.parametrize("rules", ["§", "§{rule: demo}", "§demo"])
def test_rules_are_a_list(rules):
    text = family().replace("rules:", f"rules: {rules}").replace(": §\n", ":§\n")
    assert refused(rules=text) == "rules: is a list of rules"


def test_a_file_of_rules_has_rules():
    assert refused(rules="§" + family().replace("rules:\n", "")) == "rules: is a list of rules"


@pytest.mark.parametrize("item", ["§demo", "§[rule, demo]"])
def test_a_record_is_a_section(item):
    assert "a rule is a section" in refused(rules=family(record(), f"  - {item}\n"))


def test_an_id_is_given_once():
    twice = family(record(), record(rule="other"), record(rule="§demo"))
    assert refused(rules=twice) == "there is a rule demo already"
    with pytest.raises(Refused) as caught:
        rulebook(record(), record())
    assert caught.value.also is not None
    assert caught.value.also.line == 5


def test_an_id_is_given_once_among_those_made_from_paths():
    made = {"over": "[treat_above, pause.upper]", "require": "given(it)", "rule": "§missing-{it}"}
    assert refused(record(rule="missing-pause-upper"), record(**made)) == (
        "there is a rule missing-pause-upper already"
    )


def test_a_rule_with_it_in_its_id_is_a_rule_for_each_path():
    made = rulebook(
        record(rule="missing-{it}", over="[treat_above, notify.net_in]", require="given(it)")
    )
    assert list(made.rules) == ["missing-treat-above", "missing-notify-net-in"]
    paths = [rule.instances[0].paths for rule in made.rules.values()]
    assert paths == [("treat_above",), ("notify.net_in.above", "notify.net_in.within")]


def test_a_rule_that_reading_finds_has_no_instances():
    rule = only(record(found_by="units", require=None, says="It is {anything at all}."))
    assert isinstance(rule, CodeRule)
    assert (rule.found_by, rule.inactive) == ("units", ())


DERIVED_FACTS = {
    "an unknown name": ("flows: §therapie == 'irrigation'", "did you mean therapy?"),
    "a wrong type": ("low: §pause.lower < irrigation.rate", "cannot stand beside"),
    "a later name": ("first: §second\n  second: therapy == 'drainage'", "there is no field"),
    "its own name": ("first: not §first", "there is no field"),
    "a value of the policy": (
        "narrow: pause.upper < §site.narrowest",
        "a fact holds everywhere: it reads no policy",
    ),
    "a field's name": ("§therapy: given(access)", "therapy is the name of something else"),
    "a function's name": ("§given: therapy == 'drainage'", "given is the name of something else"),
    "no name": ("§is-low: given(access)", "is-low is no name"),
    "a keyword": ("§not: given(access)", "not is no name"),
    "no text": ("low: §[a]", "low: is one text"),
    "no condition": ("low: therapy ==§", "this does not read as a condition"),
}


@pytest.mark.parametrize("case", DERIVED_FACTS)
def test_a_wrong_derived_fact_is_refused(case):
    text, message = DERIVED_FACTS[case]
    assert message in refused(derived=f"{DERIVED}  {text}\n")


def test_derived_facts_are_a_section():
    assert "derived: is a section" in refused(
        derived=DERIVED.partition("derived")[0] + "derived: §[]"
    )


def test_a_derived_fact_may_rest_on_those_before_it():
    derived = f"{DERIVED}  starts_low: irrigates and treat_above < pause.lower\n"
    rule = only(record(when="irrigates", require="not starts_low"), derived=derived)
    assert rule.instances[0].paths == ("therapy", "treat_above", "pause.lower")


def test_the_rulebook_at_hand_is_the_built_in_one_without_what_no_order_needs():
    full, bare = load("all"), load("order")
    others = {"policy-use", "order-sets", "double-check", "change"}
    needed = [name for name, rule in full.rules.items() if rule.family not in others]
    assert needed == list(bare.rules)
    for name in needed:
        assert bare.rules[name] == replace(full.rules[name], examples=None)
    left_out = [rule for rule in full.rules.values() if rule.family in others]
    assert {rule.found_by for rule in left_out if isinstance(rule, CodeRule)} == {
        *("policy", "check", "set", "proof", "readback", "compare")
    }
    assert [*load("order-set").rules] == [
        name
        for name, rule in full.rules.items()
        if rule.family not in {"policy-use", "double-check", "change"}
    ]
    assert (full.policy, full.outflow) == (bare.policy, bare.outflow)


def test_for_changes_the_rules_on_them_are_there_as_well():
    more = [name for name in load("change").rules if name not in load("order").rules]
    assert more == [n for n, rule in load("all").rules.items() if rule.family == "change"]
    assert "decimal-slip" in more


def test_a_rule_on_a_change_is_asked_of_no_order_alone():
    for rule in load("all").change_rules:
        for instance in rule.instances:
            assert any(path.startswith("before.") for path in instance.paths)
            assert any(not path.startswith("before.") for path in instance.paths)


def test_at_the_bedside_the_rules_of_the_double_check_are_there_as_well():
    more = [name for name in load("read-back").rules if name not in load("order").rules]
    assert more == [n for n, rule in load("all").rules.items() if rule.family == "double-check"]
    assert "seen-differs" in more


def test_what_ships_is_one_family_after_another_by_rank():
    shipped = shipped_files()
    ranks = [int(document.root.get("rank").text) for document in shipped.families.values()]
    assert ranks == sorted(set(ranks))
    assert {rule.family for rule in load("all").rules.values()} == set(shipped.families)


def test_proofreading_is_left_out_only_where_it_is_asked_for():
    texts = (family(record(says="It is {nothing}.")), policy(), DERIVED, SOURCES)
    assert "demo" in build_rulebook(files(*texts), {}, proofreading=False).rules
    with pytest.raises(Refused):
        build_rulebook(files(*texts), {})


def told(book: Rulebook) -> dict[str, object]:
    """Each rule with its conditions, and with the values of the policy that its words show."""
    found = {}
    for name, rule in book.rules.items():
        instances = [] if isinstance(rule, CodeRule) else rule.instances
        words = re.findall(r"site\.([\w.]+)", f"{rule.says} {rule.expected} {rule.why} {rule.ask}")
        shown = [[item.scope.policy_values.get(word) for word in words] for item in instances]
        asked = [(item.it, item.condition, item.paths) for item in instances]
        bare = rule if isinstance(rule, CodeRule) else replace(rule, instances=())
        found[name] = (bare, asked, shown)
    return found


@pytest.mark.slow
def test_a_rule_is_made_anew_where_the_policy_has_other_values_for_it():
    """Rules are kept from one rulebook of the same files for the next, whatever came between."""
    shipped = shipped_files(examples=False)
    for path in (*POLICIES, *reversed(POLICIES)):
        policy_file = read(path.read_bytes(), path.name, "site-policy")
        files_anew = replace(shipped, policy=policy_file, kept=KeptRules())
        anew = build_rulebook(files_anew, {}, proofreading=False)
        assert told(load("order", policy_file)) == told(anew), path.name


def test_words_are_proofread_though_the_rules_were_made_before_without():
    texts = files(family(record(says="It is {nothing}.")), policy(), DERIVED, SOURCES)
    build_rulebook(texts, {}, proofreading=False)
    with pytest.raises(Refused):
        build_rulebook(texts, {})
