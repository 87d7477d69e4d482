"""Keys, tokens and trust files that a service is asked with. All are made anew for each run."""

from __future__ import annotations

import json

import jwt
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from jwt.algorithms import ECAlgorithm, RSAAlgorithm

from orderlint.reading import read
from orderlint.service.trust import read_trust

ISSUER = "https://ehr.hospital.example"
ADDRESS = "https://checks.hospital.example/cds-services/order-sign"
NOW = 1_772_480_000


def jwk_of(key, **more):
    """The public key of a private one, as a JWK."""
    kind = RSAAlgorithm if isinstance(key, rsa.RSAPrivateKey) else ECAlgorithm
    return {**kind.to_jwk(key.public_key(), as_dict=True), **more}


def pem_of(key):
    """The public key of a private one, in PEM."""
    kept = key.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    return kept.decode()


def claims(**more):
    """What a token says: all that is needed, but for what `more` changes; None leaves out."""
    said = {"iss": ISSUER, "aud": ADDRESS, "iat": NOW, "exp": NOW + 300, "jti": "first", **more}
    return {name: value for name, value in said.items() if value is not None}


def bearer(key, algorithm="ES384", headers=None, **more):
    """The header of a request with a token that a key has signed."""
    named = {"kid": "k1", **(headers or {})}
    return f"Bearer {jwt.encode(claims(**more), key, algorithm, headers=named)}"


def trust_of(document, beside=None):
    """The trust that a document gives; `beside` are the files that lie there."""
    files = beside or {}
    return read_trust(read(json.dumps(document).encode(), "trust.json", "trust"), files.__getitem__)


def trusting(*keys, issuer=ISSUER, **more):
    """A trust file with one issuer."""
    issuers = [{"issuer": issuer, "jwks": {"keys": [*keys]}}]
    return {"document": "trust", "format": 1, "issuers": issuers, **more}
