"""What is fuzzed: for each reader a function of any bytes, and the seeds that it begins from.

A function raises for what may not happen: any exception but the refusal that its reader documents,
a refusal without words or place, something else when it is read again, or a wrong reading.
"""

from __future__ import annotations

import functools
import json
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import seeds
import yaml
from signing import BASE, ask, service

from orderlint import Place, Refused, load_policy, read_back, verify
from orderlint.api.conversion import to_fhir, to_orderlint
from orderlint.api.policies import rulebook_for
from orderlint.api.sources import Content
from orderlint.cli import certificates as certificate_files
from orderlint.fields import field_table
from orderlint.language.figures import FUNCTIONS
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError
from orderlint.language.syntax import parse
from orderlint.language.types import Scope
from orderlint.mentions.reader import mentions_in
from orderlint.order_set.read import read_order_set
from orderlint.order_set.static_checks import set_faults
from orderlint.proof import certificates
from orderlint.readback.saved_answers import saved_from
from orderlint.reading import read
from orderlint.reading.from_json import read_json
from orderlint.reading.from_yaml import read_yaml
from orderlint.reading.node import Scalar, Section
from orderlint.reading.unicode_checks import decode_text
from orderlint.report.ci.baseline import read_baseline
from orderlint.report.draft import draft_text
from orderlint.rulebook.policy.policy_values import Policy
from orderlint.sentences.draft import drafted, read_draft
from orderlint.service.trust import read_trust
from orderlint.tables.order_table import order_of, read_order_table
from orderlint.tables.table_map import read_table_map

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from orderlint.order_set.model import OrderSet
    from orderlint.reading.node import Node
    from orderlint.rulebook.rule import Rulebook
    from orderlint.tables.order_table import Row

AT = datetime(2026, 3, 2, 20, 30, tzinfo=UTC)
"""The time of checking; that of the examples."""
_MILLISECONDS = int(AT.timestamp()) * 1000


class Target(NamedTuple):
    """`run` takes the bytes of an input; `seeds` makes the first ones.

    No input may take more than `seconds` of processor time.
    """

    run: Callable[[bytes], None]
    seeds: Callable[[], list[bytes]]
    seconds: float = 1.0


def twice(reading: Callable[[], Hashable]) -> None:
    """Read twice, and the same must come of it."""
    first, second = _outcome(reading), _outcome(reading)
    assert first == second, f"read first as {first} and then as {second}"


def _outcome(reading: Callable[[], Hashable]) -> Hashable:
    try:
        return reading()
    except Refused as refused:
        return _checked(refused)


def _checked(refused: Refused) -> Hashable:
    message, place = refused.message, refused.place
    assert message.isprintable(), message
    assert message.strip(), message
    assert not isinstance(place, Place) or (place.line >= 1 and place.column >= 1), place
    return message, place


def order_yaml(data: bytes) -> None:
    _order(data, "order.yaml")


def order_json(data: bytes) -> None:
    _order(data, "order.json")


def _order(data: bytes, name: str) -> None:
    def reading() -> Hashable:
        result = verify(data, name=name, at=AT)
        return result.verdict, result.to_text(), json.dumps(result.to_dict())

    twice(reading)


def resource(data: bytes) -> None:
    """What is written of a resource is read, and gives the same resource as what it was read from.

    A Bundle of others is not written letter by letter as it came; that of its order is.
    """

    def converting() -> Hashable:
        made = to_orderlint(Content("resource.json", data))
        assert bool(made.text) != bool(made.refused)
        if made.text:
            first = to_fhir(Content("made.yaml", made.text.encode()))
            again = to_orderlint(Content("made.json", first.text.encode()))
            assert to_fhir(Content("made.yaml", again.text.encode())).text == first.text
        return made.text, made.refused

    twice(converting)


def order_set(data: bytes) -> None:
    def reading() -> Hashable:
        rulebook = rulebook_for("order-set")
        found = read_order_set(Content("set.yaml", data).read("order-set"), rulebook.derived)
        return str(found), str(set_faults(found, rulebook, _MILLISECONDS))

    twice(reading)


def site_policy(data: bytes) -> None:
    def reading() -> Hashable:
        rulebook = load_policy(data, name="policy.yaml").rulebook
        return rulebook.policy, str(rulebook.values), str(rulebook.faults), str(rulebook.weaker)

    twice(reading)


def settings_seen(data: bytes) -> None:
    order = (seeds.EXAMPLES / "clean.yaml").read_bytes()

    def reading() -> Hashable:
        result = read_back(order, data, names=("order.yaml", "seen.yaml"), at=AT)
        return result.verdict, result.to_text(), json.dumps(result.to_dict())

    twice(reading)


def kept_read_back(data: bytes) -> None:
    def reading() -> Hashable:
        return str(saved_from(read(data, "kept.json", "read-back-kept")))

    twice(reading)


def baseline(data: bytes) -> None:
    twice(lambda: str(read_baseline(data, "baseline.json")))


@functools.cache
def _certified() -> tuple[OrderSet, Rulebook, dict[str, str]]:
    rulebook = rulebook_for("order-set")
    few = [rule for rule in rulebook.order_rules if rule.id in seeds.FEW_RULES]
    content = Content("set.yaml", seeds.SET.read_bytes())
    order_set = read_order_set(content.read("order-set"), rulebook.derived)
    digests = dict(seeds.certificate()["digests"])  # type: ignore[call-overload]
    return order_set, rulebook._replace(rules={rule.id: rule for rule in few}), digests


@functools.cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="orderlint-fuzz-"))


def certificate(data: bytes) -> None:
    """One that is held to be good must say of each rule what the true one says."""
    path = _folder() / "certificate.json"
    path.write_bytes(data)
    order_set, rulebook, digests = _certified()

    def reading() -> Hashable:
        given = certificate_files._given(str(path))
        try:
            held = certificates.recheck(given, order_set, rulebook, digests)
        except certificates.CertificateRefused as refused:
            return str(refused)
        true = seeds.certificate()["rules"]
        assert {rule: said["result"] for rule, said in true.items()} == {
            proof.rule: proof.result.value for proof in held
        }
        return str(held)

    twice(reading)


@functools.cache
def _scope() -> Scope:
    rulebook = rulebook_for("order")
    constants = dict(Policy("", rulebook.values).constants("adult", "mmHg"))
    return Scope(field_table(), constants, derived=rulebook.derived, it="pause.upper")


def condition(data: bytes) -> None:
    """Of any text that is read from a file."""
    try:
        text = decode_text(data, "rules.yaml")
    except Refused:
        return
    twice(lambda: _in_the_language(text, lambda: lower(parse(text), _scope())))
    twice(lambda: _in_the_language(text, lambda: parse(text, FUNCTIONS, division=True)))


def _in_the_language(text: str, reading: Callable[[], object]) -> Hashable:
    try:
        return str(reading())
    except LanguageError as error:
        return _at(text, error)


def _at(text: str, error: LanguageError) -> Hashable:
    assert 0 <= error.at <= len(text), error.at
    assert error.message, error
    return error.message, error.at


def free_text(data: bytes) -> None:
    text = data.decode("utf-8", "replace")
    found = mentions_in(text)
    assert found == mentions_in(text)
    for item in found:
        start, end = item.sentence
        assert 0 <= start <= item.offset < item.offset + item.length <= end <= len(text), item


def note(data: bytes) -> None:
    """A text becomes a draft, which is read as it was written, and is never clear."""

    def reading() -> Hashable:
        draft = drafted(data, "note.txt", "0")
        for line in draft.lines:
            assert line.source.text in decode_text(data, "note.txt")
        text = draft_text(draft)
        again = read_draft(read(text.encode(), "draft.yaml", "draft"))
        assert [line.value for line in again.lines] == [line.value for line in draft.lines]
        assert verify(text, name="draft.yaml", at=AT).verdict not in {"clear", "note"}
        return text

    twice(reading)


def draft_document(data: bytes) -> None:
    def reading() -> Hashable:
        document = read(data, "draft.yaml", "draft")
        return str(read_draft(document)), verify(data, name="draft.yaml", at=AT).to_text()

    twice(reading)


def order_table(data: bytes) -> None:
    def reading() -> Hashable:
        table = read_order_table(data, "orders.csv")
        return str([_outcome(functools.partial(_row, row)) for row in table.rows]), table.said

    twice(reading)


def _row(row: Row) -> Hashable:
    return str(order_of(row, "orders.csv"))


def table_map(data: bytes) -> None:
    def reading() -> Hashable:
        return str(read_table_map(read(data, "map.yaml", "table-map")))

    twice(reading)


def trust(data: bytes) -> None:
    def reading() -> Hashable:
        document = read(data, "trust.yaml", "trust")
        return str(read_trust(document, lambda _: data).issuers.keys())

    twice(reading)


def hook(data: bytes) -> None:
    """A request of a hook is answered with cards of the specification's form, or refused."""
    asked = service()
    answer = ask(asked, "POST", "/cds-services/order-sign", data)
    assert answer.status in {200, 400}, answer.status
    for card in answer.cards if answer.status == 200 else []:
        assert 0 < len(card["summary"]) < 140
        page = ask(asked, path=card["links"][0]["url"].removeprefix(BASE))
        assert page.status == 200, page.status
    assert not any(each.fault for each in asked.records.checked)


def feedback(data: bytes) -> None:
    asked = service()
    answer = ask(asked, "POST", "/cds-services/order-sign/feedback", data)
    assert answer.status in {200, 400}, answer.status


def yaml_alone(data: bytes) -> None:
    """With libyaml and without, no YAML is read as another value."""
    with_libyaml = yaml.__with_libyaml__
    read_as = []
    for parser in {with_libyaml, False}:
        yaml.__with_libyaml__ = parser
        try:
            read_as.append(_plain(read_yaml(decode_text(data, "a.yaml"), "a.yaml")))
        except Refused:
            continue
        finally:
            yaml.__with_libyaml__ = with_libyaml
    assert read_as[1:] in ([], read_as[:1]), read_as


def json_alone(data: bytes) -> None:
    """What is read as JSON, Python's own parser reads as the same."""
    try:
        node = read_json(decode_text(data, "a.json"), "a.json")
    except Refused:
        return
    text = data.decode("utf-8-sig")
    same = json.loads(text, parse_int=str, parse_float=str, parse_constant=str)
    assert _plain(node) == _texts(same)


def _plain(node: Node | None) -> object:
    if isinstance(node, Section):
        return {entry.key.text: _plain(entry.value) for entry in node.entries}
    if isinstance(node, Scalar):
        if not node.raw.startswith(("'", '"', "|", ">")):
            assert node.raw.split() == node.text.split(), node
        return node.text
    return [_plain(item) for item in node.items] if node else None


def _texts(value: object) -> object:
    if isinstance(value, dict):
        return {key: _texts(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_texts(each) for each in value]
    return value if isinstance(value, str) else json.dumps(value)


TARGETS = {
    "order-yaml": Target(order_yaml, lambda: seeds.documents("order")),
    "order-json": Target(order_json, seeds.orders_in_json),
    "resource": Target(resource, seeds.resources),
    "order-set": Target(order_set, lambda: seeds.documents("order-set")),
    "site-policy": Target(site_policy, lambda: seeds.documents("site-policy"), 2.0),
    "settings-seen": Target(settings_seen, lambda: seeds.documents("settings-seen")),
    "kept-read-back": Target(kept_read_back, seeds.kept),
    "baseline": Target(baseline, seeds.reports),
    "certificate": Target(certificate, lambda: [json.dumps(seeds.certificate()).encode()]),
    "condition": Target(condition, seeds.conditions),
    "free-text": Target(free_text, seeds.free_texts),
    "note": Target(note, seeds.notes),
    "draft": Target(draft_document, seeds.drafts),
    "order-table": Target(order_table, seeds.tables),
    "table-map": Target(table_map, lambda: seeds.committed("table-map")),
    "trust": Target(trust, lambda: seeds.committed("trust")),
    "hook": Target(hook, lambda: seeds.committed("hook")),
    "feedback": Target(feedback, lambda: seeds.committed("feedback")),
    "yaml": Target(yaml_alone, lambda: seeds.documents("order") + seeds.committed("yaml")),
    "json": Target(json_alone, seeds.orders_in_json),
}
