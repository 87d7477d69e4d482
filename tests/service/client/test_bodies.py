"""Bodies that no client should send: each is refused, or answered as the order deserves."""

from __future__ import annotations

import gzip
import time

import pytest
from service.client.checker import faults_of_cards
from service.client.hostile import REFUSED, TEXT, once, sent
from service.client.wire import request

pytestmark = pytest.mark.usefixtures("lives_on")

BODIES = {
    "brackets": b"[" * 100_000,
    "brackets that close": b"[" * 100_000 + b"]" * 100_000,
    "sections": b'{"a":' * 100_000,
    "deep in the context": TEXT[:-1] + b',"x":' + b"[" * 100_000 + b"]" * 100_000 + b"}",
    "nothing": b"",
    "blanks": b" \n\t ",
    "half": TEXT[: len(TEXT) // 2],
    "more behind it": TEXT + TEXT,
    "invalid UTF-8": TEXT.replace(b"order-sign", b"order-\xff\xfe"),
    "overlong UTF-8": TEXT[:-1] + b',"x":"\xc0\x80"}',
    "surrogates in UTF-8": TEXT[:-1] + b',"x":"\xed\xa0\x80"}',
    "UTF-16": TEXT.decode().encode("utf-16"),
    "UTF-32": TEXT.decode().encode("utf-32"),
    "a name twice": TEXT[:-1] + b',"hookInstance":"x"}',
    "a name twice in the order": TEXT.replace(
        b'"valueQuantity"', b'"value": 1, "value": 2, "valueQuantity"', 1
    ).replace(b'"unit": "mmHg"', b'"unit": "cmH2O", "unit": "mmHg"', 1),
    "NaN": TEXT[:-1] + b',"x":NaN}',
    "Infinity": TEXT[:-1] + b',"x":-Infinity}',
    "a comment": b"/* */" + TEXT,
    "a comma too many": TEXT[:-1] + b",}",
    "single quotes": TEXT.replace(b'"', b"'"),
    "a control sign in a text": TEXT[:-1] + b',"x":"\x01"}',
    "YAML": b"hook: order-sign\ncontext: &a [*a]\n",
    "XML": b"<?xml version='1.0'?><!DOCTYPE a [<!ENTITY b SYSTEM 'file:///etc/passwd'>]><a>&b;</a>",
    "a form": b"hook=order-sign",
    "zeros": b"\0" * 10_000,
    "null": b"null",
    "a list": b"[]",
    "a number": b"1",
    "a text": b'"order-sign"',
    "no members": b"{}",
}


@pytest.mark.parametrize("name", BODIES)
def test_a_body_that_is_no_call_is_refused(name, service):
    hook = service.path_of("order-sign")
    (answer,) = sent(service, once(f"{hook}/feedback", service, BODIES[name]))
    assert answer.status in REFUSED, answer
    (answer,) = sent(service, once(hook, service, BODIES[name]))
    assert answer.status in REFUSED or is_not_checked(answer), answer


def is_not_checked(answer):
    """Whether its one card says that an order of ours could not be read."""
    assert faults_of_cards(answer) == []
    (card,) = answer.json["cards"]
    return card["summary"].startswith("NOT CHECKED") and card["indicator"] == "warning"


ODD_NUMBERS = ("1e999999", "-0", "9" * 100_000, "0." + "1" * 100_000, "1E+0022", "0.1e-999999999")


def test_an_absurd_number_in_an_order_is_never_clear(service):
    for number in ODD_NUMBERS:
        body = TEXT.replace(b'"value": 22', f'"value": {number}'.encode())
        assert body != TEXT
        answer = service.post(service.path_of("order-sign"), body)
        assert answer.status in REFUSED | {200}
        if answer.status == 200:
            assert faults_of_cards(answer) == []
            (card,) = answer.json["cards"]
            assert "CLEAR" not in card["summary"]


def test_a_surrogate_in_an_order_leaves_the_answer_whole(service):
    body = TEXT.replace(b"neurocritical care attending", b"\\ud800")
    assert body != TEXT
    answer = service.post(service.path_of("order-sign"), body)
    assert answer.status in REFUSED or faults_of_cards(answer) == []


def test_a_body_over_the_limit_is_refused_before_it_is_whole(service):
    path = service.path_of("order-sign")
    began = time.monotonic()
    head = once(path, service, b"", content_length=str(10**12))
    (answer,) = sent(service, head, b"[" * 10_000, patience=10)
    assert answer.status in {400, 413}
    assert time.monotonic() - began < 5
    before = service.resident_bytes()
    large = request("POST", path, service.host, b'{"x":"' + b"x" * 30_000_000 + b'"}')
    answers = sent(service, large, patience=10)
    assert [answer.status for answer in answers] in ([], [413])
    assert service.resident_bytes() - before < 30_000_000


CONTENT_TYPES = {
    "application/json": {200},
    "application/json; charset=utf-8": {200},
    "APPLICATION/JSON": {200},
    "application/json; charset=utf-16": {200, 400, 415},
    "application/fhir+json": {200, 400, 415},
    "text/plain": {400, 415},
    "text/html": {400, 415},
    "application/x-www-form-urlencoded": {400, 415},
    "multipart/form-data; boundary=x": {400, 415},
    "application/jsonx": {400, 415},
    "application/": {400, 415},
    "\t": {400, 415},
    ";": {400, 415},
    "x" * 5000: {400, 415},
    None: {200, 400, 415},
}


PACKED = gzip.compress(TEXT), gzip.compress(b"[" * 10**7, 1)


def test_a_coded_body_is_refused_or_decoded(service):
    path = service.path_of("order-sign")
    for coding in ("gzip", "deflate", "br", "identity, gzip", "x-none"):
        for body in PACKED:
            (answer,) = sent(service, once(path, service, body, content_encoding=coding))
            assert answer.status in REFUSED or faults_of_cards(answer) == []


def test_only_json_is_read(service):
    path = service.path_of("order-sign")
    for kind, allowed in CONTENT_TYPES.items():
        (answer,) = sent(service, once(path, service, TEXT, content_type=kind))
        assert answer.status in allowed, (kind, answer)
        if answer.status == 200:
            assert faults_of_cards(answer) == []
