"""Answers that RFC 9112 does not allow are found, before anything reads what they hold."""

from __future__ import annotations

import contextlib
import socket
import threading

import pytest
from each_case import of_each
from service.client.wire import Connection, NotHttpError, request


@contextlib.contextmanager
def answering(data):
    """The address of one that answers so, whatever is asked, and closes."""

    def serve():
        one, _ = listening.accept()
        with one:
            one.recv(65536)
            one.sendall(data)

    with socket.create_server(("127.0.0.1", 0)) as listening:
        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield listening.getsockname()
        thread.join(20)


def answered(data, method="POST"):
    with answering(data) as address, Connection(address, 5) as connection:
        connection.send(b"x")
        return connection.answer(method)


OK = b"HTTP/1.1 200 OK\r\n"


@of_each(
    ("data", "body"),
    [
        (OK + b"Content-Length: 2\r\n\r\n{}", b"{}"),
        (OK + b"content-length:0\r\n\r\n", b""),
        (OK + b"Connection: close\r\n\r\nto the end", b"to the end"),
        (OK + b"Transfer-Encoding: chunked\r\n\r\n2;x=1\r\n{}\r\n1\r\n.\r\n0\r\n\r\n", b"{}."),
        (b"HTTP/1.1 100 Continue\r\n\r\n" + OK + b"Content-Length: 1\r\n\r\n1", b"1"),
        (b"HTTP/1.1 204 \r\n\r\n", b""),
    ],
)
def test_what_is_allowed_is_read(data, body):
    assert answered(data).body == body


def test_an_answer_to_head_has_no_body():
    assert answered(OK + b"Content-Length: 9\r\n\r\n", "HEAD").body == b""


@of_each(
    "data",
    [
        b"",
        b"200 OK\r\n\r\n",
        b"HTTP/2 200\r\n\r\n",
        b"HTTP/1.1 200 OK\n\n",
        b"HTTP/1.1 999 No\r\n\r\n",
        OK,
        OK + b"Content-Length: 3\r\n\r\n{}",
        OK + b"Content-Length: -1\r\n\r\n",
        OK + b"Content-Length: 1\r\nContent-Length: 1\r\n\r\n1",
        OK + b"Content-Length: 1\r\nTransfer-Encoding: chunked\r\n\r\n1\r\n1\r\n0\r\n\r\n",
        OK + b"Transfer-Encoding: gzip\r\n\r\n",
        OK + b"Transfer-Encoding: chunked\r\n\r\nx\r\n",
        OK + b"Transfer-Encoding: chunked\r\n\r\n5\r\n12",
        OK + b"A b: c\r\nContent-Length: 0\r\n\r\n",
        OK + b"No colon\r\n\r\n",
        OK + b"A: b\r\n folded\r\nContent-Length: 0\r\n\r\n",
    ],
)
def test_what_is_not_allowed_is_found(data):
    with pytest.raises(NotHttpError):
        answered(data)


def test_a_request_is_written_as_it_stands_in_the_standard():
    made = request("POST", "/x", "h:1", b"{}", content_type=None, authorization="Bearer t")
    assert made == (
        b"POST /x HTTP/1.1\r\nHost: h:1\r\nContent-Length: 2\r\nAuthorization: Bearer t\r\n\r\n{}"
    )
