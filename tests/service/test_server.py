"""The server under clients that keep to nothing: RFC 9112, and what it says of smuggling (11.2)."""

from __future__ import annotations

import contextlib
import http.client
import logging
import socket
import threading
import time

import pytest

from orderlint.service import server as serving
from orderlint.service.guards import MOST_BYTES, MOST_HEAD_BYTES
from orderlint.service.server import Server, address_of, listening

HOST = "127.0.0.1"


def echo(environ, start_response):
    """Answers with the body of the request, read as the service reads it."""
    body = environ["wsgi.input"].read(int(environ.get("CONTENT_LENGTH") or 0))
    start_response("200 OK", [("Content-Length", str(len(body)))])
    return [body]


@contextlib.contextmanager
def served(application=echo):
    bound = listening(HOST, 0)
    server = Server(application, bound)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.stop()
        thread.join(10)
        assert not thread.is_alive()


@pytest.fixture(scope="module")
def port():
    with served() as server:
        yield int(server.effective_port)


def said(port, *pieces, half_closed=False):
    """All that comes back for what is sent, piece by piece."""
    with socket.create_connection((HOST, port), timeout=10) as client:
        for piece in pieces:
            with contextlib.suppress(ConnectionError):  # refused before all was sent
                client.sendall(piece)
        if half_closed:
            client.shutdown(socket.SHUT_WR)
        parts = []
        while data := client.recv(65_536):
            parts.append(data)
    return b"".join(parts)


def asked(*headers, body=b"", version="1.1", target="/"):
    lines = [f"POST {target} HTTP/{version}", f"Host: {HOST}", "Connection: close", *headers]
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body


def status(answer):
    return int(answer.split(b" ", 2)[1])


def test_a_body_of_a_given_length_or_in_chunks_is_read(port):
    assert said(port, asked("Content-Length: 4", body=b"body")).endswith(b"\r\n\r\nbody")
    chunks = b"3\r\nbod\r\n1;more=less\r\ny\r\n0\r\n\r\n"
    assert said(port, asked("Transfer-Encoding: chunked", body=chunks)).endswith(b"\r\n\r\nbody")
    largest = b"x" * MOST_BYTES
    answer = said(port, asked(f"Content-Length: {MOST_BYTES}", body=largest))
    assert (status(answer), answer.endswith(largest)) == (200, True)


BAD = {
    "two lengths": asked("Content-Length: 4", "Content-Length: 5", body=b"body"),
    "the same length twice": asked("Content-Length: 4", "Content-Length: 4", body=b"body"),
    "length and chunks": asked(
        "Content-Length: 4", "Transfer-Encoding: chunked", body=b"0\r\n\r\n"
    ),
    "chunks of HTTP/1.0": asked("Transfer-Encoding: chunked", body=b"0\r\n\r\n", version="1.0"),
    "an unknown coding": asked("Transfer-Encoding: gzip, chunked", body=b"0\r\n\r\n"),
    "a length below zero": asked("Content-Length: -1"),
    "a length with a sign": asked("Content-Length: +4", body=b"body"),
    "a length of thousands of digits": asked(f"Content-Length: {'9' * 5000}"),
    "no size of a chunk": asked("Transfer-Encoding: chunked", body=b"x\r\nbody\r\n0\r\n\r\n"),
    "half an address": asked(target="http://[/"),
    "no line at all": b"\x16\x03\x01\x02\x00\x01\x00\r\n\r\n",
    "a header without a colon": asked("no header"),
    "a line that ends too soon": asked("X: a\nY: b"),
}


@pytest.mark.parametrize("case", BAD)
def test_what_two_servers_could_read_in_two_ways_is_refused(port, case, caplog):
    answer = said(port, BAD[case])
    assert status(answer) == 400
    assert answer.endswith(b"\r\n\r\n")  # nothing of what was sent comes back
    assert caplog.records == []


def test_what_is_too_long_is_refused_before_it_is_read(port):
    assert status(said(port, asked(f"Content-Length: {MOST_BYTES + 1}"))) == 413
    assert status(said(port, asked(f"X: {'x' * MOST_HEAD_BYTES}"))) == 431
    chunks = asked("Transfer-Encoding: chunked"), b"100001\r\n", b"x" * 0x100001
    assert status(said(port, *chunks)) == 413


def test_a_client_that_sends_no_more_has_its_answer(port):
    whole = asked("Content-Length: 4", body=b"body")
    assert said(port, whole, half_closed=True).endswith(b"\r\n\r\nbody")
    assert said(port, whole[:-1], half_closed=True) == b""
    assert said(port, whole[:20], half_closed=True) == b""


def test_a_connection_is_used_again(port):
    connection = http.client.HTTPConnection(HOST, port, timeout=10)
    for body in (b"one", b"two"):
        connection.request("POST", "/", body)
        assert connection.getresponse().read() == body
    connection.close()


@pytest.mark.slow
def test_slow_clients_are_ended_and_others_served_meanwhile(monkeypatch):
    monkeypatch.setattr(serving, "LONGEST_REQUEST", 0.2)
    monkeypatch.setattr(serving, "_LOOK", 0)
    with served() as server, contextlib.ExitStack() as slow:
        port = int(server.effective_port)
        clients = [
            slow.enter_context(socket.create_connection((HOST, port), timeout=10))
            for _ in range(30)
        ]
        for client in clients:
            client.sendall(asked("Content-Length: 4", body=b"bo"))
        assert said(port, asked("Content-Length: 2", body=b"ok")).endswith(b"ok")
        began = time.monotonic()
        assert {client.recv(1) for client in clients} == {b""}
        assert time.monotonic() - began < 5


def test_it_ends_soon_and_answers_what_it_has_begun():
    asked_for, go_on = threading.Event(), threading.Event()

    def slow(environ, start_response):
        asked_for.set()
        go_on.wait(10)
        return echo(environ, start_response)

    answers = []
    with served(slow) as server:
        port = int(server.effective_port)
        request = asked("Content-Length: 2", body=b"ok")
        client = threading.Thread(target=lambda: answers.append(said(port, request)))
        client.start()
        assert asked_for.wait(10)
        server.stop()
        time.sleep(0.05)
        go_on.set()
        client.join(10)
    assert answers[0].endswith(b"ok")
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection((HOST, port), timeout=1)


def test_a_port_in_use_is_refused(port):
    with pytest.raises(OSError, match="in use"):
        listening(HOST, port)


def test_an_address_of_the_newer_kind_stands_in_brackets():
    with listening("::1", 0) as bound:
        assert address_of(bound) == f"http://[::1]:{bound.getsockname()[1]}"


@pytest.mark.usefixtures("port")
def test_the_library_says_nothing_of_requests():
    assert not logging.getLogger("waitress").isEnabledFor(logging.ERROR)
