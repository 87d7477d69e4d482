"""A right token is taken once, and each attack on tokens has the same answer 401."""

from __future__ import annotations

import threading
import uuid
from random import Random

import pytest
from service.client.attacks import ATTACKS, HEADER, RSA_KID, odd_headers, own_key, right
from service.client.checker import faults_of_cards, faults_of_discovery, faults_of_feedback
from service.client.hooks import call, feedback
from service.client.orders import device_request, examples
from service.client.running_service import as_json, started
from service.client.tokens import claims, rsa_key, signed
from service.client.trusting import AUDIENCE, trust_file
from service.client.wire import Connection, request

CALL = call("order-sign", device_request({"id": "without-settings"}))


@pytest.fixture(scope="module")
def trusting(tmp_path_factory):
    """A service that trusts one issuer's two keys."""
    folder = tmp_path_factory.mktemp("trusting")
    running = started(folder, "--trust", trust_file(folder))
    running.folder = folder
    found = running.discover(authorization=bearer(right(AUDIENCE))).json["services"]
    running.services.update({one["hook"]: one["id"] for one in found})
    yield running
    status, _ = running.end()
    written = (folder / "stderr.txt").read_text(encoding="utf-8")
    assert (status, "Traceback" in written) == (0, False), written[-4000:]


def bearer(token):
    return None if token is None else f"Bearer {token}"


def test_a_right_token_is_taken(trusting):
    for token in (
        right(AUDIENCE),
        right(AUDIENCE, tenant="a ward", sub="somebody"),
        signed(own_key(), {**HEADER, "jku": "https://orders.example/keys"}, claims(AUDIENCE)),
        signed(rsa_key("trusted"), {**HEADER, "alg": "RS384", "kid": RSA_KID}, claims(AUDIENCE)),
        signed(own_key(), {"kid": HEADER["kid"], "alg": "ES384"}, claims(AUDIENCE)),
    ):
        answer = trusting.call(CALL, authorization=bearer(token))
        assert faults_of_cards(answer) == []
        (card,) = answer.json["cards"]
    told = feedback(card["uuid"], "overridden", card["overrideReasons"][0])
    taken = trusting.feed_back("order-sign", told, authorization=bearer(right(AUDIENCE)))
    assert faults_of_feedback(taken) == []
    discovered = trusting.discover(authorization=bearer(right(AUDIENCE)))
    assert faults_of_discovery(discovered) == []


def refusals(trusting, authorization):
    """The answers of each endpoint that needs a token to this value of Authorization."""
    yield trusting.call(CALL, authorization=authorization)
    yield trusting.call({**CALL, "hook": "order-select"}, authorization=authorization)
    told = feedback(str(uuid.uuid4()), "overridden")
    yield trusting.feed_back("order-sign", told, authorization=authorization)


def test_every_attack_has_the_one_answer_401(trusting):
    answers = {}
    for name, attack in ATTACKS.items():
        for answer in refusals(trusting, bearer(attack(AUDIENCE))):
            assert answer.status == 401, (name, answer)
            assert answer.fields["www-authenticate"].startswith("Bearer"), name
            shown = {key: value for key, value in answer.fields.items() if key != "date"}
            answers.setdefault((answer.body, tuple(sorted(shown.items()))), []).append(name)
    assert len(ATTACKS) > 9
    assert len(answers) == 1, answers


def test_a_header_that_is_no_bearer_token_is_refused(trusting):
    for name, value in odd_headers(AUDIENCE).items():
        assert trusting.call(CALL, authorization=value).status == 401, name
    twice = bearer(right(AUDIENCE)) + f"\r\nAuthorization: {bearer(right(AUDIENCE))}"
    assert trusting.call(CALL, authorization=twice).status in {400, 401}
    long = f"Bearer {'A' * 60_000}"
    assert trusting.call(CALL, authorization=long).status in {400, 401, 431}
    in_the_path = f"{trusting.path_of('order-sign')}?access_token={right(AUDIENCE)}"
    assert trusting.post(in_the_path, as_json(CALL)).status == 401


def test_a_changed_letter_anywhere_is_refused(trusting):
    token, draw = right(AUDIENCE), Random(5)
    # The last letter of a part may hold bits that mean nothing.
    places = [place for place in range(len(token) - 1) if "." not in token[place : place + 2]]
    for place in draw.sample(places, 12):
        other = "A" if token[place] != "A" else "B"
        changed = token[:place] + other + token[place + 1 :]
        assert trusting.call(CALL, authorization=bearer(changed)).status == 401, place
    assert trusting.call(CALL, authorization=bearer(token)).status == 200


def test_a_token_is_taken_once_wherever_it_is_sent_again(trusting):
    token = bearer(right(AUDIENCE))
    assert trusting.call(CALL, authorization=token).status == 200
    assert {answer.status for answer in refusals(trusting, token)} == {401}
    claimed = claims(AUDIENCE)
    assert trusting.call(CALL, authorization=bearer(right(AUDIENCE, **claimed))).status == 200
    again = bearer(right(AUDIENCE, **{**claimed, "exp": claimed["exp"] + 1}))
    assert trusting.call(CALL, authorization=again).status == 401


def test_a_token_for_the_address_of_a_hook_is_for_that_hook_alone(trusting):
    at_signing = f"{trusting.base}{trusting.path_of('order-sign')}"
    at_choosing = {**CALL, "hook": "order-select"}
    assert trusting.call(at_choosing, authorization=bearer(right(at_signing))).status == 401
    assert trusting.call(CALL, authorization=bearer(right(at_signing))).status == 200


def test_no_header_says_for_whom_a_token_is(trusting):
    """Whoever is sent a token for its own service could else send it on under its own name."""
    path = trusting.path_of("order-sign")
    for scheme in ("http", "https"):
        for headers in (
            {"host": "evil.example"},
            {"x_forwarded_host": "evil.example", "x_forwarded_proto": scheme},
            {"forwarded": f"host=evil.example;proto={scheme}"},
        ):
            token = bearer(right(f"{scheme}://evil.example{path}"))
            answer = trusting.call(CALL, authorization=token, **headers)
            assert answer.status in {401, 421}, headers


def test_a_refused_token_does_not_use_up_its_id(trusting):
    claimed = claims(AUDIENCE)
    wrong = signed(own_key(), {**HEADER, "kid": "another"}, claimed)
    assert trusting.call(CALL, authorization=bearer(wrong)).status == 401
    assert trusting.call(CALL, authorization=bearer(right(AUDIENCE, **claimed))).status == 200


def _statuses_at_once(trusting, token, count):
    """The statuses of one token sent by so many at the same moment, all else sent before."""
    data = request(
        "POST", trusting.path_of("order-sign"), trusting.host, as_json(CALL), authorization=token
    )
    together, statuses = threading.Barrier(count), []

    def fire():
        with Connection(trusting.address) as connection:
            connection.send(data[:-1])
            together.wait(20)
            connection.send(data[-1:])
            statuses.append(connection.answer().status)

    threads = [threading.Thread(target=fire) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(statuses)


def test_of_one_token_sent_by_many_at_once_one_is_taken(trusting):
    assert _statuses_at_once(trusting, bearer(right(AUDIENCE)), 16) == [200, *[401] * 15]


@pytest.mark.deep
def test_of_one_token_sent_by_very_many_one_is_taken_each_time(trusting):
    for _ in range(50):
        assert _statuses_at_once(trusting, bearer(right(AUDIENCE)), 48) == [200, *[401] * 47]


@pytest.mark.slow
def test_what_is_wrong_is_told_to_none_but_the_trusted(trusting):
    for body in (b"", b"[" * 1000, b"{}", b"\xff"):
        assert trusting.post(trusting.path_of("order-sign"), body).status == 401
    none = trusting.path("/no-such-service")
    assert trusting.post(none, b"{}").status in {401, 404}


@pytest.mark.slow
def test_no_token_and_no_patient_is_ever_written_down(trusting):
    tokens = [right(AUDIENCE), ATTACKS["tampered payload"](AUDIENCE), right(AUDIENCE, jti=None)]
    named = call("order-sign", device_request(examples()[0]))
    named["context"]["patientId"] = "patient-of-no-log"
    named |= {
        "fhirServer": "https://fhir.example/r4",
        "fhirAuthorization": {"access_token": "secret-of-no-log"},
    }
    for token in tokens:
        trusting.call(named, authorization=bearer(token))
    written = b"".join(file.read_bytes() for file in trusting.folder.rglob("*") if file.is_file())
    for secret in (*tokens, "patient-of-no-log", "secret-of-no-log"):
        assert secret.split(".")[-1].encode() not in written
