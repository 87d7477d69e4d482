"""What a trust file may say, and what is refused in it, with its place."""

from __future__ import annotations

import json
import re
from pathlib import Path

import core_yaml
import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from jsonschema import Draft202012Validator
from jwt.algorithms import ECAlgorithm
from trusted import ISSUER, jwk_of, pem_of, trust_of, trusting

from orderlint.fields import load_schema
from orderlint.finding import Refused
from orderlint.reading import read
from orderlint.service.trust import read_trust

SCHEMA = Draft202012Validator(load_schema("trust"))


@pytest.fixture
def jwk(curve_key):
    return jwk_of(curve_key, kid="k1")


def test_keys_stand_in_the_file_or_beside_it(curve_key, rsa_key, jwk):
    beside = {
        "keys.json": json.dumps({"keys": [jwk]}).encode(),
        "key.pem": pem_of(rsa_key).encode(),
    }
    for issuer in (
        {"jwks": {"keys": [jwk]}, "pem": pem_of(rsa_key)},
        {"jwks": "keys.json", "pem": "key.pem"},
    ):
        document = {**trusting(), "issuers": [{"issuer": ISSUER, **issuer}]}
        assert SCHEMA.is_valid(document)
        (curve, other) = trust_of(document, beside).issuers[ISSUER]
        assert (curve.kid, curve.algorithm, other.kid, other.algorithm) == (
            *("k1", "ES384"),
            *(None, "RS384"),
        )
        assert curve.key == curve_key.public_key()
        assert other.key == rsa_key.public_key()


def test_a_file_in_yaml(curve_key):
    pem = "\n        ".join(pem_of(curve_key).splitlines())
    text = f"""\
document: trust
format: 1
address: https://checks.hospital.example/orders/
audience: [checks]
origins: [https://EHR.hospital.example]
issuers:
  - issuer: {ISSUER}
    pem: |
        {pem}
"""
    trust = read_trust(read(text.encode(), "trust.yaml", "trust"), lambda _: b"")
    assert trust.address == "https://checks.hospital.example/orders"
    assert (trust.audience, trust.origins) == (("checks",), {"https://ehr.hospital.example"})
    assert [key.algorithm for key in trust.issuers[ISSUER]] == ["ES384"]


def test_keys_for_something_else_are_left_out_of_a_set(jwk):
    small = jwk_of(ec.generate_private_key(ec.SECP256R1()), kid="k2")
    others = {**jwk, "kid": "k3", "use": "enc"}, {**jwk, "kid": "k4", "alg": "ES512"}
    document = trusting(
        jwk, small, *others, {"kty": "OKP", "kid": "k5", "crv": "Ed25519", "x": "AA"}
    )
    assert [key.kid for key in trust_of(document).issuers[ISSUER]] == ["k1"]
    with pytest.raises(Refused, match="no key here can check a token"):
        trust_of(trusting(small, *others))


def test_what_is_secret_is_refused(curve_key, jwk):
    private = json.loads(ECAlgorithm.to_jwk(curve_key))
    pem = curve_key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()).decode()
    shared = {"kty": "oct", "k": "c2VjcmV0", "kid": "k2"}
    issuers = [
        {"jwks": {"keys": [private]}},
        {"jwks": {"keys": [jwk, shared]}},
        {"pem": pem},
        {"pem": "key.pem"},
    ]
    for issuer in issuers:
        with pytest.raises(Refused, match="does not belong"):
            trust_of(
                {**trusting(), "issuers": [{"issuer": ISSUER, **issuer}]},
                {"key.pem": pem.encode()},
            )


MISTAKES = {
    "issuers: is a list of one issuer or more": {"issuers": []},
    "an issuer is a section": {"issuers": ["https://ehr.example"]},
    "issuer: is missing": {"issuers": [{"pem": "key.pem"}]},
    "Keys stand under jwks: or pem:": {"issuers": [{"issuer": ISSUER}]},
    "an issuer has no key jwk; did you mean jwks": {"issuers": [{"issuer": ISSUER, "jwk": {}}]},
    "`keys` is a list": {"issuers": [{"issuer": ISSUER, "jwks": {}}]},
    "is an object with names": {"issuers": [{"issuer": ISSUER, "jwks": {"keys": ["k"]}}]},
    "This is no public key in PEM": {"issuers": [{"issuer": ISSUER, "pem": "-----BEGIN X-----"}]},
    "a trust file has no key adress; did you mean address": {"adress": "https://a.example"},
    "address: is an https": {"address": "checks.hospital.example"},
    "without a query": {"address": "https://a.example/?b"},
    "http:// address": {"address": "https://user@a.example"},
    "origins: are a scheme": {"origins": ["https://a.example/path"]},
    "audience: is a list": {"audience": "checks"},
}


@pytest.mark.parametrize("message", MISTAKES)
def test_a_mistake_is_told_with_its_place(message, jwk):
    document = {**trusting(jwk), **MISTAKES[message]}
    with pytest.raises(Refused, match=message) as caught:
        trust_of(document)
    assert str(caught.value).startswith("trust.json:1:")


def test_keys_that_cannot_be_told_apart_are_refused(jwk):
    with pytest.raises(Refused, match="one kid"):
        trust_of(trusting(jwk, jwk_of(ec.generate_private_key(ec.SECP384R1()), kid="k1")))
    document = trusting(jwk)
    document["issuers"] *= 2
    with pytest.raises(Refused, match="twice"):
        trust_of(document)


@pytest.mark.parametrize(
    "broken", [{"x": "AA"}, {"x": None}, {"y": "no base64 \u00e9"}, {"crv": 7}]
)
def test_a_key_that_is_no_key_is_refused(jwk, broken):
    key = {name: value for name, value in {**jwk, **broken}.items() if value is not None}
    with pytest.raises(Refused, match=r"cannot be read|no key here"):
        trust_of(trusting(key))


def test_the_file_that_the_page_shows_is_read(curve_key, rsa_key):
    page = (Path(__file__).parents[2] / "orderlint/service/README.md").read_text(encoding="utf-8")
    (text,) = re.findall(r"^```yaml\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    beside = {
        "ehr-keys.json": json.dumps({"keys": [jwk_of(curve_key, kid="k1")]}).encode(),
        "pharmacy-key.pem": pem_of(rsa_key).encode(),
    }
    trust = read_trust(read(text.encode(), "trust.yaml", "trust"), beside.__getitem__)
    assert SCHEMA.is_valid(core_yaml.load(text))
    assert [len(keys) for keys in trust.issuers.values()] == [1, 1]
    assert trust.address in page.replace(text, "")
