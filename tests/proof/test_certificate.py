"""A certificate holds for what it was made for, and for nothing else."""

from __future__ import annotations

import copy
import dataclasses
import json

import pytest
from drawing import most
from drawn_sets import HERE, TURNS, decide, rule_of, rulebook_of, set_of, sets_and_rules
from hypothesis import given
from jsonschema import Draft202012Validator

from orderlint.fields import load_schema
from orderlint.finding import Fault
from orderlint.language.tree import And, Compare, Given, Not, Or, Term
from orderlint.order import Leaf, State
from orderlint.order_set.model import OfferedSection, Slot, Span
from orderlint.proof import certificates
from orderlint.proof.certificates import CertificateRefused, certificate, recheck
from orderlint.proof.prover import UNSETTLED
from orderlint.rulebook.rule import Skipped

SCHEMA = Draft202012Validator(load_schema("certificate"))
DIGESTS = {"set": "00" * 32, "policy": "11" * 32, "rulebook": "22" * 32}


def number(path, *values):
    leaves = tuple(Leaf(path, State.KNOWN, value, None, f"{value}") for value in values)
    return Slot(path, leaves, 0)


LESS = Compare((Term(1, ("irrigation.rate",)), Term(-1, ("titration.max",))), "<", 0)
BOTH = And((Given(("irrigation.rate",)), Given(("titration.max",))))
SIGNED = Slot("starts", (), None, Span(0, 9, {"": 1}), signed=True)
LATE = Compare((Term(1, ("starts",)),), "<", 5)
SET = set_of(
    [
        *(number("irrigation.rate", 1, 2, 3), number("titration.max", 4, 5, 6)),
        *(number("revision", 1), SIGNED),
    ],
    [OfferedSection("titration", True, HERE)],
)
BOOK = rulebook_of(
    rule_of("rate-under-maximum", LESS, when=BOTH),
    rule_of("rate-is-small", Or((Not(Given(("titration.max",))), LESS))),
    rule_of("never-speaks", LESS, when=Not(Given(("revision",)))),
    rule_of("rate-is-one", Compare((Term(1, ("irrigation.rate",)),), "==", 1)),
    rule_of("in-part", Or((Not(Given(("titration.max",))), LESS)), LATE),
    rule_of("later", LATE),
    dataclasses.replace(rule_of("not-asked"), skipped=(Skipped("it has no value"),)),
)


def made():
    return json.loads(json.dumps(certificate(SET, BOOK, decide(SET, BOOK), DIGESTS)))


@pytest.mark.parametrize(("was", "is_now"), [(1, True), (1, 1.0), (1, "1"), (False, 0), (True, 1)])
def test_a_value_of_another_type_is_another_value(was, is_now):
    """Wherever it stands: in Python 1 equals true, and in a certificate it must not."""
    same = [path for path, value in leaves_in(made()) if type(value) is type(was) and value == was]
    assert same
    for path in same:
        changed = made()
        *above, last = path
        inner = changed
        for key in above:
            inner = inner[key]
        inner[last] = is_now
        refused(changed)


def leaves_in(item, path=()):
    inside = item.items() if isinstance(item, dict) else enumerate(item)
    for key, value in inside:
        if isinstance(value, (dict, list)):
            yield from leaves_in(value, (*path, key))
        else:
            yield (*path, key), value


def test_what_is_not_looked_at_may_not_be_there():
    for at in ((), ("rules", "rate-is-one"), ("rules", "rate-is-small"), ("digests",)):
        for note in ("all is proved", None):
            changed = made()
            inner = changed
            for key in at:
                inner = inner[key]
            inner["note"] = note
            refused(changed)


@pytest.mark.parametrize("part", ["certificate", "digests", "not_checked", "rules"])
@pytest.mark.parametrize("levels", [100, 100_000])
def test_what_is_nested_too_deep_is_refused(part, levels):
    nested = []
    for _ in range(levels):
        nested = [nested]
    with pytest.raises(CertificateRefused):
        recheck({**made(), part: nested}, SET, BOOK, DIGESTS)


def test_the_proofs_hold_when_checked_again():
    held = recheck(made(), SET, BOOK, DIGESTS)
    assert {proof.rule: proof.result.value for proof in held} == {
        "rate-under-maximum": "proved",
        "rate-is-small": "proved",
        "never-speaks": "vacuous",
        "rate-is-one": "broken",
        "in-part": "proved",
        "later": "at-signing",
        "not-asked": "inactive",
    }
    assert {proof.rule for proof in held if proof.at_signing} == {"in-part", "later"}


def test_what_is_left_to_signing_is_part_of_what_is_claimed():
    changed = made()
    assert changed["rules"]["in-part"]["at_signing"] == ["starts"]
    changed["rules"]["in-part"]["at_signing"] = []
    assert "at_signing" in refused(changed)


def refused(changed, order_set=SET, book=BOOK, digests=DIGESTS):
    with pytest.raises(CertificateRefused) as error:
        recheck(changed, order_set, book, digests)
    return str(error.value)


def test_a_certificate_with_a_clause_dropped_is_refused():
    changed = made()
    del changed["rules"]["rate-under-maximum"]["conditions"][0][0]
    assert "conditions" in refused(changed)


def sides(changed):
    conditions = changed["rules"]["rate-under-maximum"]["conditions"]
    return [side for clauses in conditions for clause in clauses for side in clause["slots"]]


def test_a_certificate_with_a_pin_reversed_is_refused():
    assert {side["take"] for side in sides(made())} == {"high", "low"}
    for number_of in range(len(sides(made()))):
        changed = made()
        side = sides(changed)[number_of]
        side["take"] = "low" if side["take"] == "high" else "high"
        assert "conditions" in refused(changed)


def test_a_certificate_with_an_option_edited_is_refused():
    changed = made()
    part = sides(changed)[0]["parts"][0]
    assert part["high"] == "2: known 3 None, 3"
    part["high"] = "2: known 2 None, 2"
    refused(changed)
    edited = set_of(
        [number("irrigation.rate", 1, 2, 4), *list(SET.slots.values())[1:]],
        SET.offered_sections.values(),
    )
    refused(made(), order_set=edited)


def test_a_certificate_for_other_files_is_refused():
    for name in DIGESTS:
        said = refused(made(), digests={**DIGESTS, name: "33" * 32})
        assert said == f"it was made for another {name}, by the digest"
    said = refused(made(), digests=dict.fromkeys(DIGESTS, "33" * 32))
    assert "another set and another policy and another rulebook" in said
    assert "the digests" in refused({**made(), "digests": []})


def test_a_claim_that_is_made_less_is_refused():
    """It was taken as it stood: a certificate vouches for nothing that it does not claim."""
    for rule in ("rate-under-maximum", "never-speaks", "in-part", "rate-is-one"):
        for result in ("broken", "undetermined", "not-proved"):
            changed = made()
            if changed["rules"][rule]["result"] == result:
                continue
            changed["rules"][rule] = {"result": result}
            assert f"{rule} does not come out as {result}" in refused(changed)
            changed["rules"][rule] = {"result": result, "reasons": ["it was given up"]}
            assert f"{rule} does not come out as {result}" in refused(changed)


def test_what_was_given_up_holds_for_the_same_reason_alone():
    square = Compare((Term(1, ("irrigation.rate", "irrigation.rate")),), "<", 99)
    blank = Slot("irrigation.rate", (), None, Span(-3, 9, {"": 1}), blank=True)
    order_set, book = set_of([blank]), rulebook_of(rule_of("square", square))
    proofs = decide(order_set, book)
    issued = json.loads(json.dumps(certificate(order_set, book, proofs, DIGESTS)))
    assert issued["rules"]["square"] == {"result": "not-proved", "reasons": [TURNS]}
    assert recheck(issued, order_set, book, DIGESTS)[0].result.value == "not-proved"
    for reasons in ([], ["another"], [TURNS, "another"], TURNS):
        issued["rules"]["square"]["reasons"] = reasons
        refused(issued, order_set, book)


def test_a_certificate_for_other_rules_is_refused():
    stricter = rule_of(
        "rate-is-small", Or((Not(Given(("titration.max",))), LESS._replace(bound=-1)))
    )
    refused(made(), book=BOOK._replace(rules={**BOOK.rules, "rate-is-small": stricter}))
    refused(made(), book=rulebook_of(*list(BOOK.rules.values())[1:]))
    for rule in BOOK.rules:
        changed = made()
        del changed["rules"][rule]
        assert "the rules" in refused(changed)


def test_nothing_is_proved_of_a_set_that_leaves_open_what_it_can_yield():
    fault = Fault("set-entry-not-understood", "pause.lower", "", HERE)
    assert UNSETTLED in refused(made(), order_set=dataclasses.replace(SET, unsettled=(fault,)))


def test_a_broken_rule_is_not_proved_by_saying_so():
    changed = made()
    changed["rules"]["rate-is-one"] = {
        **copy.deepcopy(changed["rules"]["rate-is-small"]),
        "result": "proved",
    }
    assert "not kept" in refused(changed)


@pytest.mark.parametrize(
    ("rule", "result"),
    [
        ("rate-under-maximum", "vacuous"),
        ("never-speaks", "proved"),
        ("rate-is-small", "inactive"),
        ("rate-is-one", "at-signing"),
        ("rate-is-one", "sound"),
        ("later", "inactive"),
        ("not-asked", "at-signing"),
    ],
)
def test_another_result_than_the_true_one_is_refused(rule, result):
    changed = made()
    changed["rules"][rule]["result"] = result
    refused(changed)


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"certificate": 1},
        {"certificate": 2},
        {"certificate": 1, **{key: value for key, value in made().items() if key != "certificate"}},
        {"certificate": 2, "digests": DIGESTS, "rules": []},
        {"certificate": True, "digests": DIGESTS, "rules": {}},
    ],
)
def test_what_is_no_certificate_is_refused(wrong):
    refused(wrong)


def test_a_checker_that_skips_is_found_out(monkeypatch):
    """The tests above fail with a checker that takes the certificate's word."""
    monkeypatch.setattr(certificates, "_recheck", lambda *_: None)
    changed = made()
    del changed["rules"]["rate-under-maximum"]["conditions"][0][0]
    with pytest.raises(pytest.fail.Exception):
        refused(changed)


@most(20)
@given(sets_and_rules())
def test_any_certificate_holds_when_checked_again(drawn):
    order_set, rulebook = drawn
    proofs = decide(order_set, rulebook)
    issued = json.loads(json.dumps(certificate(order_set, rulebook, proofs, DIGESTS)))
    assert SCHEMA.is_valid(issued)
    found = recheck(issued, order_set, rulebook, DIGESTS)
    said = [(proof.rule, proof.result, proof.at_signing) for proof in proofs]
    assert [(proof.rule, proof.result, proof.at_signing) for proof in found] == said
