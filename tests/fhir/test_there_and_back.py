"""Orders drawn with blemishes, written as a Bundle and read again: nothing is gained or lost."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from drawing import most
from hypothesis import given
from texts import as_yaml, trees

from orderlint.api.conversion import to_fhir, to_orderlint
from orderlint.api.policies import rulebook_for
from orderlint.api.sources import Content
from orderlint.api.verbs import verify_content
from orderlint.fhir.bundle.reading import only_one
from orderlint.fhir.bundle.writing import bundle_text, texts_of
from orderlint.fields import field_table
from orderlint.reading import FHIR
from orderlint.reading.node import Scalar
from orderlint.report.order.as_yaml import order_yaml
from orderlint.schema_check import known_nodes
from orderlint.unit_spellings import SPELLINGS
from orderlint.units import TICKS

AT = 1_772_480_000_000
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ORDERS = sorted(
    path.name
    for path in EXAMPLES.iterdir()
    if path.is_file() and re.search(rb'^ *"?document"?: "?order"?,?$', path.read_bytes(), re.M)
)


def content(text, json=False):
    return Content("order", text.encode() if isinstance(text, str) else text, json=json)


def verified(read):
    return verify_content(read, AT, rulebook_for("order", None))


def settings_of(finding):
    others = ((mention.path, mention.written) for mention in finding.also)
    return sorted([(finding.path, finding.written), *others])


def what_is_found(read):
    """All that `verify` says of an order, but for where it stands and which setting leads."""
    found = verified(read)
    assessment = found.assessment
    return {
        "texts": {path: leaf.text for path, leaf in found.order.leaves.items()},
        "states": {path: leaf.state for path, leaf in found.order.leaves.items()},
        "verdict": assessment.verdict,
        "findings": sorted(
            (each.rule, each.level, settings_of(each)) for each in assessment.findings
        ),
        "unchecked": sorted((each.rule, each.missing, each.why) for each in assessment.unchecked),
        "not checked": [(each.path, each.text) for each in found.not_checked],
        "behaviour": found.behaviour,
    }


def there_and_back(order):
    """An order as a Bundle and as the order that is made of that: all say the same."""
    bundle = to_fhir(order)
    assert not bundle.refused
    again = to_orderlint(content(bundle.text, json=True))
    assert (again.refused, again.left) == ((), ())
    expected = what_is_found(order)
    assert what_is_found(content(bundle.text, json=True)) == expected
    assert what_is_found(content(again.text)) == expected
    assert to_fhir(content(again.text)).text == bundle.text


@pytest.mark.slow
@pytest.mark.parametrize("name", ORDERS)
def test_each_example_comes_back_as_it_was(name):
    order = content((EXAMPLES / name).read_bytes(), json=name.endswith(".json"))
    _, refused = texts_of(order.read("order"))
    if refused:
        assert to_fhir(order).refused == tuple(map(str, refused))
    else:
        there_and_back(order)


def drawn(data):
    """An order of what of the drawn one has a place in FHIR; nothing of it is said without one."""
    order = content(as_yaml(data))
    texts, refused = texts_of(order.read("order"))
    assert bool(refused) == bool(to_fhir(order).refused)
    return order if not refused else content(order_yaml(texts))


@most(100)
@given(trees())
def test_drawn_orders_come_back_as_they_were(data):
    there_and_back(drawn(data))


@pytest.mark.deep
@most(20_000)
@given(trees(most_odd=0.4))
def test_many_drawn_orders_come_back_as_they_were(data):
    there_and_back(drawn(data))


UNITS = sorted({*SPELLINGS, *(symbol for units in TICKS.values() for symbol in units)})


QUANTITIES = [field.path for field in field_table().fields.values() if field.kind == "quantity"]


def test_every_spelling_of_a_unit_comes_back_as_it_is_spelled():
    spelled = [each for u in UNITS for each in (u, u.upper(), u.replace("/", " / "))]
    drug = {"irrigation.fluid": "NS", "irrigation.additive.name": "example antibiotic"}
    for begin in range(0, len(spelled), len(QUANTITIES)):
        some = [f"8 {spelling}" for spelling in spelled[begin : begin + len(QUANTITIES)]]
        texts = {**dict(zip(QUANTITIES, some, strict=False)), **drug, "status": "active"}
        found = only_one(content(bundle_text(texts), json=True).read(FHIR))
        assert (found.faults, found.not_understood) == ((), ())
        assert settings_in(found.document) == texts


def settings_in(document):
    nodes = known_nodes(document.root, field_table())[0]
    texts = {path: node.text for path, node in nodes if isinstance(node, Scalar)}
    return {path: text for path, text in texts.items() if path not in {"document", "format"}}
