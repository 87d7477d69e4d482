"""The verb `serve`: where it listens, what it prints and keeps, and how it ends."""

from __future__ import annotations

import contextlib
import http.client
import io
import json
import os
import re
import signal
import sys
import threading
import time
from typing import NamedTuple
from unittest import mock

import bundles
import jwt
import pytest
from jsonschema import Draft202012Validator, FormatChecker
from running import AT, run
from signing import order, request
from trusted import ISSUER, jwk_of, trusting

from orderlint import cli
from orderlint.fields import load_schema
from orderlint.service import server as serving

LINES = Draft202012Validator(load_schema("check-record"), format_checker=FormatChecker())
FEEDBACK = "/cds-services/order-sign/feedback"
LONGEST = 20


class Served(NamedTuple):
    """How a service ended, and what it told on standard error."""

    status: int
    told: str


def served(script, *arguments):
    """Run the verb in this thread, and `script` with its address in another; then end it."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8") for _ in range(2))
    failed, ended = [], threading.Event()

    def client():
        try:
            script(_address(out.buffer, ended))
        except BaseException as error:
            failed.append(error)
        finally:
            if not ended.is_set():  # else the signal would end the tests
                os.kill(os.getpid(), signal.SIGTERM)

    thread = threading.Thread(target=client)
    with mock.patch.multiple(sys, stdout=out, stderr=err):
        thread.start()
        with pytest.raises(SystemExit) as caught:
            cli.main(["serve", *AT, *map(str, arguments)])
        ended.set()
    thread.join(LONGEST)
    if failed:
        raise failed[0]
    err.flush()
    return Served(caught.value.code, err.buffer.getvalue().decode())


def _address(out, ended):
    """The first line, once it is there."""
    until = time.monotonic() + LONGEST
    while not out.getvalue().endswith(b"\n"):
        assert not ended.is_set()
        assert time.monotonic() < until
        time.sleep(0.005)
    return out.getvalue().decode().splitlines()[0]


def post(address, path, said, **headers):
    connection = http.client.HTTPConnection(address.removeprefix("http://"), timeout=LONGEST)
    with contextlib.closing(connection):
        kind = {"Content-Type": "application/json"}
        connection.request("POST", path, json.dumps(said), {**kind, **headers})
        answer = connection.getresponse()
        return answer.status, answer.read()


@pytest.mark.slow
def test_a_check_and_its_feedback_are_lines_of_the_record(tmp_path):
    record, cards = tmp_path / "record.jsonl", []

    def script(address):
        assert re.fullmatch(r"http://127\.0\.0\.1:[1-9][0-9]+", address)
        reversed_limits = order(pause__lower="22 mmHg", pause__upper="2 mmHg")
        _, data = post(address, "/cds-services/order-sign", request(reversed_limits))
        cards.extend(json.loads(data)["cards"])
        said = {
            "card": cards[0]["uuid"],
            "outcome": "overridden",
            "overrideReason": {"reason": cards[0]["overrideReasons"][1], "userComment": "J. Doe"},
            "outcomeTimestamp": "2026-03-02T21:31:00Z",
        }
        assert post(address, FEEDBACK, {"feedback": [said]})[0] == 200

    ended = served(script, "--record", record)
    assert ended.status == 0
    check, feedback = map(json.loads, record.read_text(encoding="ascii").splitlines())
    assert not [*LINES.iter_errors(check), *LINES.iter_errors(feedback)]
    assert (check["verb"], check["verdict"], check["status"]) == ("serve", "do-not-start", 1)
    assert check["as_of"] == "2026-03-02T21:30:00Z"
    assert {"rule": "pause-limits-reversed", "level": "do-not-start"} in check["findings"]
    assert check["card"] == feedback["card"] == cards[0]["uuid"]
    assert (feedback["outcome"], feedback["reason"]) == ("overridden", "2")
    assert feedback["as_of"] == "2026-03-02T21:31:00Z"
    assert "Doe" not in record.read_text(encoding="ascii") + ended.told


@pytest.mark.slow
def test_with_trust_every_hook_needs_a_token_that_nobody_reads_again(tmp_path, curve_key):
    trust = tmp_path / "trust.json"
    document = trusting()
    document["issuers"] = [{"issuer": ISSUER, "jwks": "keys.json"}]
    trust.write_text(json.dumps(document))
    (tmp_path / "keys.json").write_text(json.dumps({"keys": [jwk_of(curve_key, kid="k1")]}))
    tokens = []

    def script(address):
        path, now = "/cds-services/order-sign", int(time.time())
        said = {"iss": ISSUER, "aud": address + path, "iat": now, "exp": now + 60, "jti": "one"}
        tokens.append(jwt.encode(said, curve_key, "ES384", headers={"kid": "k1"}))
        header = {"Authorization": f"Bearer {tokens[0]}"}
        assert post(address, path, request(order()))[0] == 401
        status, data = post(address, path, request(order()), **header)
        assert (status, len(json.loads(data)["cards"])) == (200, 1)
        assert post(address, path, request(order()), **header) == (401, b"")

    ended = served(script, "--trust", trust)
    assert ended.status == 0
    lines = ended.told.splitlines()
    assert [line.split()[1:3] for line in lines] == [
        ["order-sign", status] for status in ("401", "200", "401")
    ]
    assert not any(part in ended.told for part in (*tokens[0].split("."), "demo-0417", "mmHg"))


@pytest.mark.slow
def test_a_concept_map_names_the_codes_of_a_site(tmp_path):
    site = "https://site.example/codes"
    elements = [
        {"code": f"S{n}", "target": [{"code": code, "equivalence": "equal"}]}
        for n, code in enumerate(("order", "treat_above"))
    ]
    group = {"source": site, "target": bundles.CODES, "element": elements}
    made = {"resourceType": "ConceptMap", "status": "active", "group": [group]}
    file = tmp_path / "map.json"
    file.write_text(json.dumps(made))
    whole = bundles.bundle(
        {
            **bundles.device_request(),
            "codeCodeableConcept": {"coding": [{"system": site, "code": "S0"}]},
            "parameter": [],
        }
    )
    counts = []

    def script(address):
        _, data = post(address, "/cds-services/order-sign", request(whole))
        counts.append(len(json.loads(data)["cards"]))

    assert served(script, "--concept-map", file).status == 0
    assert served(script).status == 0
    assert counts == [1, 0]


@pytest.fixture
def no_server(monkeypatch):
    """Fails instead of serving."""
    monkeypatch.setattr(serving.Server, "run", lambda _: pytest.fail("it serves"))


@pytest.mark.usefixtures("no_server")
def test_what_is_refused_before_anything_is_served(tmp_path, curve_key):
    key = jwk_of(curve_key, kid="k1")
    trust, bad = tmp_path / "trust.json", tmp_path / "bad.json"
    trust.write_text(json.dumps(trusting(key)))
    bad.write_text(json.dumps(trusting({**key, "d": "AA"})))
    for arguments, said in (
        (("--host", "0.0.0.0"), "Without --trust"),
        (("--host", "::"), "Without --trust"),
        (("--host", "0.0.0.0", "--trust", trust), "`address:` is missing"),
        (("--host", "no-such-host.invalid"), "cannot be used"),
        (("--port", "65536"), "65536"),
        (("--trust", bad), f"{bad}:1:"),
        (("--trust", tmp_path / "none.yaml"), "There is no such file"),
        (("--concept-map", trust), "a resource of FHIR is wanted here"),
        (("--policy", trust), "a site policy is wanted"),
        (("--record", "-"), "--record takes a file"),
        (("--record", bad), "it holds something else"),
        (("--record", tmp_path / "no-folder/record"), "there is no such folder"),
        (("--record", trust, "--trust", trust), "would be lost"),
    ):
        ran = run("serve", *arguments)
        assert (ran.status, ran.out) == (2, b""), arguments
        assert said in ran.err, ran.err


def test_a_port_in_use_is_told():
    with serving.listening("127.0.0.1", 0) as bound:
        port = bound.getsockname()[1]
        ran = run("serve", "--port", str(port))
    assert (ran.status, ran.out) == (2, b"")
    assert ran.err == f"Port {port} of 127.0.0.1 cannot be used: Address already in use.\n"


def test_without_its_extra_it_says_what_to_install(monkeypatch):
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None if name == "jwt" else name)
    ran = run("serve")
    assert ran.status == 2
    assert "pip install 'orderlint[serve]'" in ran.err
