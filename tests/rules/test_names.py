"""Every name that the policy looks for is found, in the additive and in the fluid."""

from __future__ import annotations

from pathlib import Path

import pytest
from each_case import holds_of_each

from orderlint.conditions import Conditions
from orderlint.fields import CHECKED_AT
from orderlint.language.figures import row_names
from orderlint.language.tree import Names, atoms
from orderlint.language.types import Listed
from orderlint.order import Leaf, State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.verification import verify

EXAMPLES = Path(__file__).parents[2] / "examples"
CLEAN = (EXAMPLES / "clean.yaml").read_text(encoding="utf-8")
AT = 1_772_483_400_000  # 2026-03-02T14:30:00-06:00
UNSAFE = CLEAN.replace("vascular_lesion: none", "vascular_lesion: unsecured").replace(
    "anticoagulation: none", "anticoagulation: therapeutic"
)
FOUND_BY = {
    "thrombolytics": {"thrombolytic-with-lesion", "thrombolytic-with-anticoagulation"},
    "heparins": {"heparin-with-lesion"},
    "preserved": {"preservative-in-bag"},
    "multi_dose": {"multi-dose-vial"},
    "vinca_alkaloids": {"vinca-alkaloid-in-bag"},
    "tranexamic_acid": {"tranexamic-acid-in-bag"},
    "potassium_chloride": {"potassium-chloride-in-bag"},
    "gadolinium_agents": {"gadolinium-in-bag"},
    "contrast_not_for_spine": {"contrast-not-for-spine"},
    "contrast_unnamed": {"contrast-not-for-spine"},
    "chlorhexidine": {"chlorhexidine-in-bag"},
    "beta_lactams": {"beta-lactam-in-bag", "ceftriaxone-with-calcium"},
    "amphotericin": {"amphotericin-in-bag"},
}
"""The rules of which at least one must be found where a name of the list stands in the bag."""
BOOK = load("all")
VALUES = BOOK.values
ASKED = Conditions(rule for rule in BOOK.order_rules if rule.id in set().union(*FOUND_BY.values()))


def found(text: str) -> set[str]:
    return {item.rule for item in verify(text.encode(), "order.yaml", AT).assessment.findings}


def of_lists(text: str) -> set[str]:
    """The rules on the lists that an order breaks, though another may be reported in its place."""
    order = read_order(read(text.encode(), "order.yaml", "order"))
    leaves = {**order.leaves, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, AT)}
    return {item.rule.id for item in ASKED.judge(leaves)[0]}


def each_of(value: str) -> list[str]:
    return [item.text for item in VALUES[value].parts[""].items]


def in_additive(name: str) -> str:
    drug = f'additive: {{name: "{name}", concentration: 1 mg/L, class: other}} '
    return UNSAFE.replace("additive: none ", drug)


def in_fluid(name: str) -> str:
    return UNSAFE.replace("fluid: lactated Ringer's", f'fluid: "Ringer\'s with {name}"')


@pytest.mark.parametrize("value", FOUND_BY)
def test_each_name_of_a_list_is_found_wherever_it_stands(value):
    def is_found(name):
        for text in (
            in_additive(name),
            in_additive(name.upper()),
            in_fluid(f"demo-salt, {name} 5"),
        ):
            assert of_lists(text) & FOUND_BY[value], text

    assert each_of(value)
    holds_of_each(each_of(value), is_found)
    assert found(in_additive(each_of(value)[0])) & FOUND_BY[value]


@pytest.mark.parametrize("value", FOUND_BY)
def test_no_name_that_is_ruled_out_is_found(value):
    def is_not_found(name):
        for text in (in_additive(f"demo drug, no {name}"), in_additive(f"{name}-free demo drug")):
            assert not of_lists(text) & FOUND_BY[value], text

    holds_of_each(each_of(value), is_not_found)


def test_no_list_is_looked_for_in_vain():
    rules = [rule for rule in BOOK.rules.values() if rule.found_by == "condition"]
    conditions = (item.condition for rule in rules for item in rule.instances)
    looked_for = {a.listed for tree in conditions for a in atoms(tree) if isinstance(a, Names)}
    lists = {
        name: tuple(item.text for item in value.parts[""].items)
        for name, value in VALUES.items()
        if isinstance(value.parts.get(""), Listed)
    }
    assert set(FOUND_BY) <= {name for name, listed in lists.items() if listed in looked_for}
    tables = [value for value in VALUES.values() if value.is_by_name]
    rows = {row_names(row) for value in tables for row in value.keyed}
    every = {sum(map(row_names, value.keyed), ()) for value in tables}
    assert looked_for == (looked_for & set(lists.values())) | rows | every


@pytest.mark.parametrize(
    "words",
    [
        "instructions: no alteplase until the aneurysm is secured",
        "instructions: SC heparin continues",
        "instructions: alteplase is contraindicated",
        "instructions: chlorhexidine for the skin; KCl by vein as the laboratory asks",
        "instructions: contrast CT in the morning, preservative-free eye drops",
    ],
)
def test_a_drug_in_the_instructions_of_a_good_order_is_quiet(words):
    text = CLEAN.replace("instructions:", "was:") if "instructions:" in CLEAN else CLEAN
    lines = [line for line in text.splitlines() if not line.startswith("was:")]
    assert found("\n".join([*lines, words])) == set()
