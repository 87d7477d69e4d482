"""Which tokens are taken: RFC 7515 and 7519, and what CDS Hooks 2.0 asks of a token."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import threading
from concurrent.futures import ThreadPoolExecutor

import jwt
import pytest
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from trusted import ADDRESS, ISSUER, NOW, bearer, claims, jwk_of, pem_of, trust_of, trusting

from orderlint.finding import Refused
from orderlint.service.tokens import LONGEST_TOKEN, Claims, TokenGate, UsedIds


def part(said):
    return base64.urlsafe_b64encode(json.dumps(said).encode()).rstrip(b"=").decode()


@pytest.fixture
def gate(curve_key, rsa_key):
    keys = jwk_of(curve_key, kid="k1"), jwk_of(rsa_key, kid="r1")
    return TokenGate(trust_of(trusting(*keys)), lambda: NOW)


def test_a_token_of_either_kind_is_taken_once(gate, curve_key, rsa_key):
    for header in (bearer(curve_key), bearer(rsa_key, "RS384", {"kid": "r1"}, jti="other")):
        assert gate.admits(header, ADDRESS)
        assert not gate.admits(header, ADDRESS)


def test_the_same_id_in_a_token_signed_anew_is_refused(gate, curve_key):
    assert gate.admits(bearer(curve_key), ADDRESS)
    assert not gate.admits(bearer(curve_key, exp=NOW + 200), ADDRESS)


def test_an_id_is_that_of_its_issuer(curve_key):
    document = trusting(jwk_of(curve_key, kid="k1"))
    document["issuers"].append({**document["issuers"][0], "issuer": "https://other.example"})
    gate = TokenGate(trust_of(document), lambda: NOW)
    assert gate.admits(bearer(curve_key), ADDRESS)
    assert gate.admits(bearer(curve_key, iss="https://other.example"), ADDRESS)


REFUSED = {
    "ended": {"exp": NOW},
    "issued later": {"iat": NOW + 3_000, "exp": NOW + 3_300},
    "not before later": {"nbf": NOW + 3_000},
    "without an end": {"exp": None},
    "without its issue": {"iat": None},
    "without an id": {"jti": None},
    "an empty id": {"jti": ""},
    "an id that is a number": {"jti": 7},
    "without an audience": {"aud": None},
    "for another": {"aud": "https://elsewhere.example"},
    "for another hook": {"aud": ADDRESS.replace("order-sign", "order-select")},
    "for the host alone": {"aud": "https://checks.hospital.example"},
    "an audience within": {"aud": f"{ADDRESS}/more"},
    "of another issuer": {"iss": "https://elsewhere.example"},
    "of an issuer in a list": {"iss": [ISSUER]},
    "for a day": {"exp": NOW + 86_400},
    "of a day ago": {"iat": NOW - 86_400},
    "an end that is a text": {"exp": str(NOW + 300)},
    "an end that is true": {"exp": True},
    "an end without end": {"exp": float("inf")},
    "an end that no float holds": {"exp": 10**400},
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_claim_that_is_not_as_it_must_be(gate, curve_key, case):
    said = claims(**REFUSED[case])
    # Signed part by part, as the library refuses to write some of these.
    head = part({"alg": "ES384", "typ": "JWT", "kid": "k1"})
    signed = f"{head}.{part(said)}"
    signature = jwt.get_algorithm_by_name("ES384").sign(signed.encode(), curve_key)
    token = f"{signed}.{base64.urlsafe_b64encode(signature).rstrip(b'=').decode()}"
    assert not gate.admits(f"Bearer {token}", ADDRESS)


def test_the_same_made_as_it_must_be_is_taken(gate, curve_key):
    assert gate.admits(bearer(curve_key, aud=["https://elsewhere.example", ADDRESS]), ADDRESS)
    assert gate.admits(bearer(curve_key, jti="2", iat=NOW + 30, exp=NOW + 300.5), ADDRESS)
    assert gate.admits(bearer(curve_key, jti="3", exp=NOW + 1), ADDRESS)


def test_what_the_house_calls_itself_may_be_the_audience(curve_key):
    document = trusting(jwk_of(curve_key, kid="k1"), audience=["checks-of-orders"])
    gate = TokenGate(trust_of(document), lambda: NOW)
    assert gate.admits(bearer(curve_key, aud="checks-of-orders"), ADDRESS)


def test_no_algorithm_but_the_two(gate, curve_key, rsa_key):
    unsigned = f"{part({'alg': 'none', 'typ': 'JWT', 'kid': 'k1'})}.{part(claims())}."
    assert not gate.admits(f"Bearer {unsigned}", ADDRESS)
    for algorithm in ("RS256", "RS512", "PS384"):
        assert not gate.admits(bearer(rsa_key, algorithm, {"kid": "r1"}), ADDRESS)
    other = ec.generate_private_key(ec.SECP256R1())
    assert not gate.admits(bearer(other, "ES256"), ADDRESS)
    # Neither kind of key checks what the other kind would.
    assert not gate.admits(bearer(rsa_key, "RS384", {"kid": "k1"}), ADDRESS)
    assert not gate.admits(bearer(curve_key, "ES384", {"kid": "r1"}), ADDRESS)


@pytest.mark.parametrize("algorithm", ["HS256", "HS384"])
def test_a_public_key_is_no_secret(gate, curve_key, rsa_key, algorithm):
    digest = {"HS256": hashlib.sha256, "HS384": hashlib.sha384}[algorithm]
    for key, kid in ((curve_key, "k1"), (rsa_key, "r1")):
        for secret in (pem_of(key), json.dumps(jwk_of(key))):
            signed = f"{part({'alg': algorithm, 'typ': 'JWT', 'kid': kid})}.{part(claims())}"
            mac = hmac.new(secret.encode(), signed.encode(), digest).digest()
            token = f"{signed}.{base64.urlsafe_b64encode(mac).rstrip(b'=').decode()}"
            assert not gate.admits(f"Bearer {token}", ADDRESS)


def test_a_key_that_the_token_brings_is_not_used(gate):
    mine = ec.generate_private_key(ec.SECP384R1())
    for brought in (
        {"jwk": jwk_of(mine, kid="k1")},
        {"jku": "https://elsewhere.example/keys", "kid": "other"},
        {"x5u": "https://elsewhere.example/chain"},
        {"x5c": [pem_of(mine)]},
    ):
        assert not gate.admits(bearer(mine, headers=brought), ADDRESS)


def test_where_keys_are_said_to_be_is_not_looked_at(gate, curve_key):
    assert gate.admits(bearer(curve_key, headers={"jku": "https://elsewhere.example"}), ADDRESS)


def test_a_key_checks_only_the_tokens_that_name_it(curve_key):
    keys = jwk_of(curve_key, kid="k1"), jwk_of(ec.generate_private_key(ec.SECP384R1()), kid="k2")
    gate = TokenGate(trust_of(trusting(*keys)), lambda: NOW)
    assert not gate.admits(bearer(curve_key, headers={"kid": "k2"}), ADDRESS)
    assert gate.admits(bearer(curve_key, headers={"kid": "k1"}), ADDRESS)


def test_a_key_without_a_name_checks_any(curve_key):
    document = trusting()
    document["issuers"][0] = {"issuer": ISSUER, "pem": pem_of(curve_key)}
    gate = TokenGate(trust_of(document), lambda: NOW)
    assert gate.admits(bearer(curve_key, headers={"kid": "any"}), ADDRESS)


def test_what_the_head_asks_for_beyond_this_is_refused(gate, curve_key):
    for headers in ({"crit": ["exp"]}, {"typ": "at+jwt"}, {"crit": ["b64"], "b64": False}):
        head = {"alg": "ES384", "kid": "k1", **headers}
        signed = f"{part(head)}.{part(claims())}"
        signature = jwt.get_algorithm_by_name("ES384").sign(signed.encode(), curve_key)
        token = f"{signed}.{base64.urlsafe_b64encode(signature).rstrip(b'=').decode()}"
        assert not gate.admits(f"Bearer {token}", ADDRESS)


def test_what_is_no_token(gate, curve_key):
    token = bearer(curve_key).removeprefix("Bearer ")
    head, body, signature = token.split(".")
    tampered = part(claims(jti="another"))
    deep = "[" * 5_000
    for header in (
        "",
        "Bearer",
        "Bearer ",
        f"Basic {token}",
        token,
        f"Bearer {token} {token}",
        f"Bearer {token}, Bearer {token}",
        f"Bearer {head}.{tampered}.{signature}",
        f"Bearer {head}.{body}.",
        f"Bearer {head}.{body}",
        f"Bearer {head}.{body}.{signature[:-4]}",
        f"Bearer {base64.urlsafe_b64encode(deep.encode()).decode()}.{body}.{signature}",
        f"Bearer {head}.{base64.urlsafe_b64encode(deep.encode()).decode()}.{signature}",
        f"Bearer {'a' * LONGEST_TOKEN}a",
        "Bearer \udcff.\x00.é",
        f"Bearer {part([])}.{part([])}.{signature}",
    ):
        assert not gate.admits(header, ADDRESS)
    assert gate.admits(f"bearer {token}", ADDRESS)  # a scheme in any case (RFC 9110, 11.1)


def named(number, ends=NOW + 300):
    return Claims(ISSUER, frozenset(), f"{number}", NOW, NOW, ends)


def test_of_many_threads_one_has_the_token():
    used, start = UsedIds(), threading.Barrier(16)

    def take(_):
        start.wait()
        return [used.take(named(number), NOW) for number in range(50)]

    with ThreadPoolExecutor(16) as threads:
        taken = [*threads.map(take, range(16))]
    assert [sum(column) for column in zip(*taken, strict=True)] == [1] * 50


def test_ids_are_held_until_they_end_and_no_longer():
    used = UsedIds(most=2)
    assert used.take(named(1, NOW + 10), NOW)
    assert used.take(named(2, NOW + 20), NOW)
    assert not used.take(named(3, NOW + 30), NOW)  # no room: refused, and nothing is forgotten
    assert not used.take(named(1, NOW + 10), NOW + 9)
    assert used.take(named(3, NOW + 30), NOW + 10)
    assert not used.take(named(2, NOW + 20), NOW + 10)


def test_a_clock_that_is_set_back_brings_no_token_back():
    used = UsedIds()
    assert used.take(named(1, NOW + 10), NOW)
    assert used.take(named(2, NOW + 60), NOW + 20)
    assert not used.take(named(1, NOW + 10), NOW)


def test_a_small_key_is_refused_before_it_checks_anything():
    with pytest.raises(Refused, match="2048 bits"):
        trust_of(trusting(jwk_of(rsa.generate_private_key(65537, 1024), kid="k1")))
