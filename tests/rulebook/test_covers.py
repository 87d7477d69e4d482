"""What covers what: known rules, none heavier, none itself, carried through."""

from __future__ import annotations

from rule_files import family, record, refused, rulebook

from orderlint.rulebook.covers import covers_of
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import subjects_of
from orderlint.rulebook.source_documents import shipped_files


def chain(first: str, second: str, third: str) -> str:
    """Three rules, each with the `covers:` given."""
    named = {"one": first, "two": second, "three": third}
    return family(*(record(rule=rule, covers=covers or None) for rule, covers in named.items()))


def subjects(rule):
    """The settings by which findings of a rule overlap with others."""
    return {p for item in rule.instances for p in subjects_of(item.paths, item.condition)}


def test_each_cover_can_act():
    """It, or a condition that covers it, is about a setting of what it covers."""
    book = load("all")
    asked = {rule.id: rule for rule in (*book.order_rules, *book.change_rules) if rule.instances}
    for document in shipped_files().families.values():
        for each in document.root.get("rules").items:
            for cover in covers_of(each, each.get("rule").text):
                if {cover.upper, cover.lower} <= asked.keys():
                    over = {cover.upper, *(r for r in asked if cover.upper in asked[r].covers)}
                    shared = subjects(asked[cover.lower])
                    assert any(subjects(asked[rule]) & shared for rule in over), cover


def test_what_a_covered_rule_covers_is_covered_too():
    made = rulebook(
        record(rule="one", covers="[two]"),
        record(rule="two"),
        record(rule="three", covered_by="[two]", covers="[four]"),
        record(rule="four"),
    ).rules
    assert {name: set(rule.covers) for name, rule in made.items()} == {
        "one": {"two", "three", "four"},
        "two": {"three", "four"},
        "three": {"four"},
        "four": set(),
    }


def test_a_rule_may_be_covered_along_two_ways():
    made = rulebook(
        record(rule="one", covers="[two, three]"),
        record(rule="two", covers="[three]"),
        record(rule="three"),
    ).rules
    assert made["one"].covers == {"two", "three"}


def test_rules_made_from_paths_each_cover():
    made = rulebook(
        record(rule="no-{it}", over="[access, therapy]", require="given(it)", covers="[other]"),
        record(rule="other"),
    ).rules
    assert made["no-access"].covers == made["no-therapy"].covers == {"other"}


def test_an_unknown_id_is_refused_at_either_end():
    assert refused(record(covers="[demo-two, §nope]"), record(rule="demo-two")) == (
        "there is no rule nope"
    )
    assert refused(record(covered_by="[§nope]")) == "there is no rule nope"


def test_a_rule_does_not_cover_itself():
    assert refused(record(covers="[§demo]")) == "demo would cover itself"
    assert refused(record(covered_by="[§demo]")) == "demo would cover itself"


def test_a_rule_does_not_cover_itself_through_others():
    assert "would cover itself" in refused(rules=chain("[two]", "[three]", "[§one]"))
    assert refused(rules=chain("", "[three]", "[§two]")) == "two would cover itself"


def test_a_circle_is_refused_even_where_it_is_written_at_the_other_end():
    both = family(record(rule="one", covers="[two]", covered_by="[§two]"), record(rule="two"))
    assert "would cover itself" in refused(rules=both)


def test_a_heavier_rule_is_not_covered():
    heavy = record(rule="heavy", level="do-not-start")
    message = "heavy is do-not-start; a rule that is clarify cannot cover it"
    assert refused(record(covers="[§heavy]"), heavy) == message
    assert refused(record(), record(rule="heavy", level="do-not-start", covered_by="[§demo]")) == (
        message
    )


def test_a_rule_of_the_same_level_or_a_lighter_one_is_covered():
    made = rulebook(
        record(covers="[same, light]"), record(rule="same"), record(rule="light", level="note")
    )
    assert made.rules["demo"].covers == {"same", "light"}
