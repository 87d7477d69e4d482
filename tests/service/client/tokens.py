"""JSON web tokens made by hand (RFC 7515, 7517, 7518), so that they may be as wrong as wanted."""

from __future__ import annotations

import base64
import functools
import hashlib
import hmac
import json
import time
import uuid
from typing import Any

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa, utils

ISSUER = "https://orders.example"
SIZES = {"ES256": 32, "ES384": 48, "ES512": 66}
HASHES = {"256": hashes.SHA256(), "384": hashes.SHA384(), "512": hashes.SHA512()}


def encoded(data: bytes) -> str:
    """Base64 for URLs, without padding."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


@functools.cache
def curve_key(
    name: str, curve: type[ec.EllipticCurve] = ec.SECP384R1
) -> ec.EllipticCurvePrivateKey:
    """A key by a name, the same throughout a run."""
    del name
    return ec.generate_private_key(curve())


@functools.cache
def rsa_key(name: str) -> rsa.RSAPrivateKey:
    """A key by a name, the same throughout a run."""
    del name
    return rsa.generate_private_key(65537, 2048)


def pem(key: Any) -> bytes:
    """The public half as people paste it."""
    return key.public_key().public_bytes(
        serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo
    )


def public_jwk(key: Any, kid: str) -> dict[str, str]:
    """The public half as RFC 7517 writes it."""
    numbers = key.public_key().public_numbers()
    if isinstance(key, rsa.RSAPrivateKey):
        kinds = {"kty": "RSA", "alg": "RS384", "n": _number(numbers.n), "e": _number(numbers.e)}
    else:
        size = (key.curve.key_size + 7) // 8
        x, y = (encoded(one.to_bytes(size, "big")) for one in (numbers.x, numbers.y))
        kinds = {"kty": "EC", "alg": "ES384", "crv": "P-384", "x": x, "y": y}
    return {**kinds, "kid": kid, "use": "sig"}


def _number(value: int) -> str:
    return encoded(value.to_bytes((value.bit_length() + 7) // 8, "big"))


def claims(audience: str, **changed: Any) -> dict[str, Any]:
    """All the claims that CDS Hooks asks for; None leaves one out."""
    now = int(time.time())
    whole = {
        "iss": ISSUER,
        "aud": audience,
        "exp": now + 240,
        "iat": now,
        "jti": str(uuid.uuid4()),
        **changed,
    }
    return {name: value for name, value in whole.items() if value is not None}


def signed(key: Any, header: dict[str, Any] | bytes, payload: dict[str, Any] | bytes) -> str:
    """A token by the `alg` of its header, whatever the key is; a part may be bytes as they are."""
    parts = [
        one if isinstance(one, bytes) else json.dumps(one).encode() for one in (header, payload)
    ]
    alg = header.get("alg", "ES384") if isinstance(header, dict) else "ES384"
    text = ".".join(encoded(part) for part in parts)
    return f"{text}.{encoded(signature(key, alg, text.encode()))}"


def signature(key: Any, alg: str, text: bytes) -> bytes:
    """What RFC 7518 makes of a text; nothing for an algorithm that is none."""
    digest = HASHES.get(alg[2:], hashes.SHA384())
    match alg[:2]:
        case "HS":
            return hmac.digest(key, text, getattr(hashlib, digest.name))
        case "RS":
            return key.sign(text, padding.PKCS1v15(), digest)
        case "PS":
            return key.sign(text, padding.PSS(padding.MGF1(digest), digest.digest_size), digest)
        case "ES":
            size = (key.curve.key_size + 7) // 8
            pair = utils.decode_dss_signature(key.sign(text, ec.ECDSA(digest)))
            return b"".join(one.to_bytes(size, "big") for one in pair)
        case _:
            return b""
