"""Requests that HTTP does not allow, or only just: none ends in status 500, and it lives on."""

from __future__ import annotations

import os
import socket
import time

import pytest
from service.client.checker import faults_of_cards
from service.client.hooks import call
from service.client.hostile import GOOD, TEXT, once, sent
from service.client.running_service import as_json
from service.client.wire import Connection, request
from service.client.wrong_heads import HEADS, LENGTHS

pytestmark = pytest.mark.usefixtures("lives_on")


def _chunked(service, *parts):
    path = service.path_of("order-sign")
    head = once(path, service, b"", content_length=None, transfer_encoding="chunked")
    return sent(service, head, *parts, ended=True, patience=2)


def test_chunks_are_read_whole_or_refused(service):
    halves = TEXT[:500], TEXT[500:]
    whole = b"".join(b"%x\r\n%s\r\n" % (len(half), half) for half in halves) + b"0\r\n\r\n"
    (answer,) = _chunked(service, whole)
    assert answer.status == 411 or faults_of_cards(answer) == []
    for garbage in (
        b"zz\r\n{}\r\n0\r\n\r\n",
        b"-1\r\n{}\r\n0\r\n\r\n",
        b"+2\r\n{}\r\n0\r\n\r\n",
        b"0x2\r\n{}\r\n0\r\n\r\n",
        b"2\r\n{}XX0\r\n\r\n",
        b"2\n{}\n0\n\n",
        b"f" * 5000 + b"\r\n{}\r\n",
        b"ffffffffffffffff\r\n{}\r\n",
        b"2;" + b"x" * 400_000 + b"\r\n{}\r\n0\r\n\r\n",
        b"0\r\n" + b"A: b\r\n" * 100_000 + b"\r\n",
        os.urandom(3000),
    ):
        statuses = [answer.status for answer in _chunked(service, garbage)]
        assert 200 not in statuses, garbage[:40]


HIDDEN = b"GET /hidden HTTP/1.1\r\nHost: x\r\n\r\n"


@pytest.mark.parametrize("name", LENGTHS)
def test_a_length_that_two_may_read_in_two_ways_hides_no_request(name, service):
    path = service.path_of("order-sign").encode()
    lines = [b"POST " + path + b" HTTP/1.1", b"Host: " + service.host.encode()]
    lines += [b"Content-Type: application/json", *LENGTHS[name], b"", b"{}"]
    answers = sent(service, b"\r\n".join(lines), HIDDEN, patience=0.3)
    assert 200 not in [answer.status for answer in answers]
    assert name in {"the same twice", "no length"} or len(answers) <= 1, answers


def test_a_request_byte_by_byte_is_answered(service):
    data = once(service.path_of("order-sign"), service, as_json(call("order-sign")))
    (answer,) = sent(service, *(data[place : place + 1] for place in range(len(data))))
    assert faults_of_cards(answer) == []


def test_slow_ones_hold_nobody_up(service):
    slow = [Connection(service.address) for _ in range(60)]
    for number, connection in enumerate(slow):
        data = once(service.path_of("order-sign"), service, TEXT)
        connection.send(data[: (10, 80, len(data) - 1)[number % 3]])
    began = time.monotonic()
    assert faults_of_cards(service.call(GOOD)) == []
    assert time.monotonic() - began < 5
    for connection in slow:
        connection.__exit__()


def test_one_that_sends_no_more_is_answered_or_let_go(service):
    whole = once(service.path_of("order-sign"), service, TEXT)
    for data in (b"", b"P", whole[:50], whole[:-1]):
        assert [answer.status for answer in sent(service, data, ended=True)] in ([], [400])
    answers = sent(service, whole, ended=True)
    assert all(faults_of_cards(answer) == [] for answer in answers)


def test_one_that_goes_away_leaves_nothing_behind(service):
    whole = request("POST", service.path_of("order-sign"), service.host, TEXT)
    for _ in range(40):
        with Connection(service.address) as connection:
            connection.socket.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
            connection.send(whole)


def test_requests_sent_together_are_answered_in_their_order(service):
    hooked, none = service.path_of("order-sign"), service.path("/no-such-service")
    three = (
        request("POST", hooked, service.host, TEXT),
        request("POST", none, service.host, TEXT),
        request("GET", service.path(), service.host),
    )
    with Connection(service.address) as connection:
        connection.send(b"".join(three * 8))
        for _ in range(8):
            assert faults_of_cards(connection.answer()) == []
            assert connection.answer().status == 404
            assert "services" in connection.answer("GET").json


@pytest.mark.parametrize("name", HEADS)
def test_an_absurd_head_ends_in_no_500(name, service):
    for answer in sent(service, HEADS[name], ended=True, patience=2):
        assert b"root:" not in answer.body
        assert b"Traceback" not in answer.body


def test_a_client_that_waits_to_be_told_to_go_on_is_told(service):
    head, body = once(service.path_of("order-sign"), service, TEXT, expect="100-continue").split(
        b"\r\n\r\n", 1
    )
    with Connection(service.address) as connection:
        connection.send(head + b"\r\n\r\n")
        assert connection.socket.recv(25, socket.MSG_PEEK | socket.MSG_WAITALL).startswith(
            b"HTTP/1.1 100 "
        )
        connection.send(body)
        assert faults_of_cards(connection.answer()) == []


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE", "PATCH", "HEAD", "TRACE", "X"])
def test_a_service_is_called_by_post_alone(method, service):
    data = request(method, service.path_of("order-sign"), service.host, b"{}", connection="close")
    with Connection(service.address) as connection:
        connection.send(data)
        assert connection.answer(method).status in {400, 404, 405, 501}


def test_another_name_of_this_machine_is_refused_and_never_stands_in_a_link(service):
    for host in (
        "evil.example",
        f"evil.example:{service.address[1]}",
        "",
        "a b",
        "[",
        f"127.0.0.1.:{service.address[1]}",
    ):
        (answer,) = sent(service, once(service.path_of("order-sign"), service, TEXT, host=host))
        assert answer.status in {400, 403, 421}, (host, answer)
    forwarded = {"x_forwarded_host": "evil.example", "forwarded": "host=evil.example"}
    answer = service.call(GOOD, **forwarded, x_forwarded_for="10.0.0.1", x_forwarded_proto="https")
    assert answer.status == 200
    assert b"evil.example" not in answer.body


def test_a_page_of_another_site_reads_nothing(service):
    for origin in ("https://evil.example", "null"):
        answer = service.call(GOOD, origin=origin)
        assert answer.fields.get("access-control-allow-origin") in {None, service.base}
