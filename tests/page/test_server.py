"""The local page over the network: a server in a thread, and a client that keeps to nothing."""

from __future__ import annotations

import http.client
import json
import socket
import threading
from urllib.parse import urlencode

import pytest
from running import run

from orderlint.page.guards import MOST_BYTES, MOST_RETURNED
from orderlint.page.server import PageServer

NOW = 1_772_480_000_000


@pytest.fixture(scope="module")
def server():
    with PageServer(0, None, lambda: NOW) as serving:
        thread = threading.Thread(target=serving.serve_forever, daemon=True)
        thread.start()
        yield serving
        serving.shutdown()


def ask(server, method="GET", path="", body=None, **headers):
    connection = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=20)
    connection.request(method, f"/{server.key}/{path}", body, headers)
    answer = connection.getresponse()
    return answer, answer.read()


def test_every_answer_lets_nothing_else_in(server):
    for method, path, body in (
        ("GET", "", None),
        ("POST", "check", b"therapy=drainage"),
        ("GET", "none", None),
    ):
        answer, _ = ask(server, method, path, body)
        policy = answer.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; style-src 'sha256-")
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["Cache-Control"] == "no-store"


def test_a_check_answers_with_verdict_and_file(server):
    answer, data = ask(server, "POST", "check", urlencode({"therapy": "drainage"}))
    assert answer.status == 200
    shown = json.loads(data)
    assert shown["verdict"].startswith("DO NOT START")
    assert 'therapy: "drainage"' in shown["yaml"]


def test_what_is_refused_says_nothing(server):
    for headers, status in (
        ({"Host": f"evil.example:{server.server_port}"}, 421),
        ({"Origin": "http://evil.example"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
    ):
        answer, data = ask(server, **headers)
        assert (answer.status, data) == (status, b"")
    connection = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=20)
    connection.request("GET", "/")
    assert connection.getresponse().status == 404


def test_a_body_that_is_too_long_is_not_read(server):
    with socket.create_connection(("127.0.0.1", server.server_port), timeout=20) as client:
        head = (
            f"POST /{server.key}/check HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n"
            "Content-Length: 999999999\r\n\r\n"
        )
        client.sendall(head.encode())
        assert client.recv(100).split()[1] == b"413"


def test_a_form_with_a_file_that_is_too_large_comes_back_as_it_was(server):
    part = b'--edge\r\nContent-Disposition: form-data; name="'
    head = part + b'upload"; filename="a.csv"\r\n\r\n'
    tail = b"\r\n" + part + b'indication"\r\n\r\nbleeding\r\n--edge--\r\n'
    kind = {"Content-Type": "multipart/form-data; boundary=edge"}
    for length in (MOST_BYTES, MOST_RETURNED - len(head) - len(tail)):
        for path in ("open", "", "sheet"):
            answer, data = ask(server, "POST", path, head + b"x" * length + tail, **kind)
            assert answer.status == 413
            assert b"longer than 300 kB" in data
            assert b'name="indication" value="bleeding"' in data
    for path in ("check", "open/", "../open"):
        answer, data = ask(server, "POST", path, b"x" * (MOST_BYTES + 1), **kind)
        assert (answer.status, data) == (413, b"")


def test_without_the_key_a_large_body_is_not_read(server):
    for path in ("open", "/open", f"/{server.key[:-1]}/open"):
        with socket.create_connection(("127.0.0.1", server.server_port), timeout=20) as client:
            head = (
                f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n"
                f"Content-Length: {MOST_BYTES + 1}\r\n\r\n"
            )
            client.sendall(head.encode())
            assert client.recv(100).split()[1] == b"413"


def test_a_fault_of_ours_is_no_result(server, monkeypatch):
    def fail(*_):
        raise ZeroDivisionError

    monkeypatch.setattr("orderlint.page.site.Site.answer", fail)
    answer, data = ask(server)
    assert (answer.status, data) == (500, b"")


def test_only_this_machine_is_served_and_under_a_key_of_its_own(server):
    assert server.server_address[0] == "127.0.0.1"
    with PageServer(0, None, lambda: NOW) as other:
        assert other.key != server.key
        assert len(other.key) >= 32
    assert run("page", "--port", str(server.server_port), "--no-open").status == 2


@pytest.mark.parametrize("option", ["--table", "--concept-map"])
def test_a_map_that_is_refused_is_told_before_anything_is_served(option, tmp_path):
    wrong = tmp_path / "map.yaml"
    wrong.write_text("document: rules\nformat: 1\n")
    ran = run("page", "--no-open", option, wrong)
    assert ran.status == 2
    assert str(wrong) in ran.err


def test_a_policy_that_is_refused_is_told_before_anything_is_served(tmp_path):
    policy = tmp_path / "policy.yaml"
    policy.write_text("document: site-policy\nformat: 1\n")
    ran = run("page", "--no-open", "--policy", policy)
    assert ran.status == 2
    assert str(policy) in ran.err
