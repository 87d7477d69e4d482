"""What holds of every order, however it is written."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from running import run
from texts import as_json, as_yaml, trees

from orderlint.fields import CHECKED_AT, field_table, load_schema
from orderlint.finding import Refused
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Member, Same, Tree, Written, atoms
from orderlint.order import Leaf, State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import ChangeRule, CodeRule
from orderlint.schema_check import check_shape, is_empty, known_nodes
from orderlint.verification import verify

if TYPE_CHECKING:
    import random

AT = 1_772_483_400_000
WATER = {"a": Fraction("1.35951")}  # cmH2O in 1 mmHg, conventional mercury (13.5951 g/mL)


def said(data: bytes, file: str) -> Any:
    """All that does not hang on where something is written.

    A finding of several settings names them in the order in which they stand: their words and
    their settings are compared as sets.
    """
    found = verify(data, file, AT)
    findings = sorted(
        (f.rule, sorted(f"{f.says} {f.ask}".split()), sorted(map(setting, (f, *f.also))))
        for f in found.assessment.findings
    )
    return (
        found.assessment.verdict,
        findings,
        sorted(found.assessment.unchecked, key=str),
        found.behaviour,
    )


def setting(mention: Any) -> tuple[str, str]:
    return mention.path, mention.written


@given(trees())
def test_yaml_and_json_say_the_same(data):
    assert said(as_yaml(data), "order.yaml") == said(as_json(data), "order.json")


@given(trees(), st.randoms())
def test_the_order_of_keys_says_nothing(data, chance):
    assert said(as_yaml(data), "order.yaml") == said(as_yaml(shuffled(data, chance)), "order.yaml")


def shuffled(data: Any, chance: random.Random) -> Any:
    if not isinstance(data, dict):
        return data
    keys = list(data)
    chance.shuffle(keys)
    return {key: shuffled(data[key], chance) for key in keys}


def reads_the_writing(tree: Tree) -> bool:
    units = (Written, Member, Same)
    return any(
        isinstance(atom, Written) or (isinstance(atom, units) and "is_unit=True" in repr(atom))
        for atom in atoms(tree)
    )


@given(trees(most_odd=0))
def test_a_pressure_written_exactly_in_the_other_unit_changes_no_outcome(data):
    here, there = outcomes(data), outcomes(in_water(data))
    assert here == there


def outcomes(data: Any) -> dict[str, list[bool | None]]:
    order = read_order(read(as_yaml(data), "order.yaml"))
    leaves = {**order.leaves, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, AT)}
    return {
        rule.id: [
            evaluate(i.condition, leaves)
            for i in rule.instances
            if not reads_the_writing(i.condition)
        ]
        for rule in load("all").order_rules
    }


def in_water(data: Any, prefix: str = "") -> Any:
    if isinstance(data, dict):
        return {key: in_water(value, f"{prefix}{key}.") for key, value in data.items()}
    field = field_table().fields.get(prefix.rstrip("."))
    if field is None or field.dimension != "pressure" or not data.endswith(" mmHg"):
        return data
    exact = Fraction(data.removesuffix(" mmHg")) * WATER["a"] * 10**7
    assert exact.denominator == 1
    sign = "-" if exact < 0 else ""
    whole, part = divmod(abs(int(exact)), 10**7)
    decimals = f".{part:07d}".rstrip("0").rstrip(".")
    return f"{sign}{whole}{decimals} cmH2O"


@given(trees())
def test_what_plainly_fits_is_valid_by_the_schema(data):
    root = read(as_json(data), "order.json").root
    errors = list(Draft202012Validator(load_schema("order")).iter_errors(written(data)))
    # A scalar outside a list of choices is the leaf's own to judge.
    shape = [e for e in errors if e.validator != "enum" or not isinstance(e.instance, str | int)]
    assert not (known_nodes(root, field_table())[1] and shape)


@given(trees())
def test_what_fits_is_left_out_before_the_schema_is_asked_and_no_fault_is_lost(data):
    root = read(as_json(data), "order.json").root
    shortly = check_shape(root, field_table())
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(
            "orderlint.schema_check._can_be_left_out",
            lambda path, entry, _: bool(path) and is_empty(entry.value),
        )
        assert shortly == check_shape(root, field_table())


def written(data: Any) -> Any:
    """The data without its empty values: a key with nothing after it has been left out."""
    if not isinstance(data, dict):
        return data
    return {key: written(value) for key, value in data.items() if value not in (None, "")}


def test_the_clean_order_plainly_fits():
    from test_verify import CLEAN  # noqa: PLC0415

    assert known_nodes(read(CLEAN.encode(), "order.yaml").root, field_table())[1]


def test_the_rulebook_at_hand_is_the_whole_one_without_its_examples():
    whole, short = load("all"), load("order")
    of_others = {"policy", "check", "set", "proof", "readback", "compare"}
    needed = [
        name
        for name, rule in whole.rules.items()
        if rule.found_by not in of_others and not isinstance(rule, ChangeRule)
    ]
    assert needed == list(short.rules)
    for other in short.rules.values():
        rule = whole.rules[other.id]
        assert other.examples is None
        assert rule.examples is not None
        assert (rule.says, rule.place, rule.covers) == (other.says, other.place, other.covers)
        if not isinstance(rule, CodeRule):
            assert [i.condition for i in rule.instances] == [i.condition for i in other.instances]


@given(st.one_of(st.binary(max_size=300), trees().map(as_yaml), trees().map(as_json)), st.data())
def test_no_bytes_make_a_traceback_or_an_internal_fault(data, draw):
    for _ in range(draw.draw(st.integers(0, 3))):
        at = draw.draw(st.integers(0, max(len(data) - 1, 0)))
        data = (
            data[:at] + draw.draw(st.binary(max_size=3)) + data[at + draw.draw(st.integers(0, 2)) :]
        )
    form = draw.draw(st.sampled_from(["text", "json"]))
    ran = run("verify", "--format", form, "-", stdin=data)
    assert ran.status in {0, 1, 2}
    assert "Traceback" not in ran.err
    assert (ran.status == 2) == bool(ran.err)


@pytest.mark.parametrize("data", [b"", b"\xff", b"document: order", b"[]", b"document: [order]"])
def test_what_is_no_order_is_refused(data):
    with pytest.raises(Refused):
        verify(data, "order.yaml", AT)
