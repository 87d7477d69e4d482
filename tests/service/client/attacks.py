"""Tokens that prove nothing: sent without a key, with an old token, or with another's.

The names of members are those of RFC 7515, 7517 and 7519; the claims are those of CDS Hooks 2.0.
"""

from __future__ import annotations

import base64
import json
import time
from typing import TYPE_CHECKING, Any

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from service.client.tokens import claims, curve_key, encoded, pem, public_jwk, rsa_key, signed

if TYPE_CHECKING:
    from collections.abc import Callable

KID, RSA_KID = "at-the-ward", "at-the-ward-too"
HEADER = {"alg": "ES384", "typ": "JWT", "kid": KID}
HOUR = 3600


def own_key() -> ec.EllipticCurvePrivateKey:
    """The key that is trusted."""
    return curve_key("trusted")


def stranger() -> ec.EllipticCurvePrivateKey:
    """A key that nobody trusts."""
    return curve_key("stranger")


def right(audience: str, **changed: Any) -> str:
    """A token to which nothing is wrong but what is changed among its claims."""
    return signed(own_key(), HEADER, claims(audience, **changed))


def _now() -> int:
    return int(time.time())


def _header(audience: str, key: Any = None, **changed: Any) -> str:
    """A token whose header is changed, signed as its `alg` says; None leaves a member out."""
    header = {name: value for name, value in {**HEADER, **changed}.items() if value is not None}
    return signed(key or own_key(), header, claims(audience))


def _without_key(audience: str, **changed: Any) -> str:
    """A stranger's token whose header brings the stranger's key."""
    return _header(audience, stranger(), **changed)


def _shared_secret(audience: str, secret: bytes, alg: str = "HS384") -> str:
    return signed(secret, {**HEADER, "alg": alg}, claims(audience))


def _tampered(audience: str) -> str:
    """The payload of another patient's nurse under a right signature."""
    header, _, signature = right(audience).split(".")
    other = encoded(json.dumps(claims(audience, sub="somebody else")).encode())
    return f"{header}.{other}.{signature}"


def _resigned(audience: str, signature: bytes) -> str:
    return ".".join([*right(audience).split(".")[:2], encoded(signature)])


def _der_signature(audience: str) -> str:
    """A right signature in the form that RFC 7518 does not use."""
    text = right(audience).rsplit(".", 1)[0]
    der = own_key().sign(text.encode(), ec.ECDSA(hashes.SHA384()))
    return f"{text}.{encoded(der)}"


def _expiring(audience: str, number: str) -> str:
    """A token whose `exp` is a number that Python does not write so."""
    payload = json.dumps(claims(audience, exp=0)).replace('"exp": 0', f'"exp": {number}')
    return signed(own_key(), HEADER, payload.encode())


def _secret_of_kid(audience: str, kid: str) -> str:
    return signed(b"", {"alg": "HS384", "typ": "JWT", "kid": kid}, claims(audience))


def _deep_header(_: str) -> str:
    return signed(own_key(), b'{"alg":"ES384","x":' + b"[" * 3000, {})


def _deep_payload(_: str) -> str:
    return signed(own_key(), HEADER, b"[" * 3000)


def _raw_key(key: ec.EllipticCurvePrivateKey) -> bytes:
    """The point of a public key as bytes."""
    form = serialization.PublicFormat.UncompressedPoint
    return key.public_key().public_bytes(serialization.Encoding.X962, form)


def _jwk_text() -> bytes:
    return json.dumps(public_jwk(own_key(), KID)).encode()


ATTACKS: dict[str, Callable[[str], str | None]] = {
    "no token": lambda _: None,
    "alg none": lambda aud: _header(aud, alg="none"),
    "alg NONE": lambda aud: _header(aud, alg="nOnE"),
    "alg none, with a signature": lambda aud: _header(aud, alg="none") + "AAAA",
    "alg empty": lambda aud: _header(aud, alg=""),
    "alg missing": lambda aud: _header(aud, alg=None),
    "alg no text": lambda aud: signed(own_key(), b'{"alg":["ES384"],"kid":"x"}', claims(aud)),
    "HS384 with the public key": lambda aud: _shared_secret(aud, pem(own_key())),
    "HS384 with the public key, trimmed": lambda aud: _shared_secret(aud, pem(own_key()).strip()),
    "HS384 with the key's JWK": lambda aud: _shared_secret(aud, _jwk_text()),
    "HS384 with the key's point": lambda aud: _shared_secret(aud, _raw_key(own_key())),
    "HS384 with nothing": lambda aud: _shared_secret(aud, b""),
    "HS256 with the public key": lambda aud: _shared_secret(aud, pem(own_key()), "HS256"),
    "RS256": lambda aud: _header(aud, rsa_key("trusted"), alg="RS256", kid=RSA_KID),
    "PS384": lambda aud: _header(aud, rsa_key("trusted"), alg="PS384", kid=RSA_KID),
    "RS384 under the other key's name": lambda aud: _header(aud, rsa_key("trusted"), alg="RS384"),
    "ES384 under the other key's name": lambda aud: _header(aud, kid=RSA_KID),
    "ES256": lambda aud: _header(aud, curve_key("short", ec.SECP256R1), alg="ES256"),
    "a shorter curve": lambda aud: _header(aud, curve_key("short", ec.SECP256R1)),
    "aud another hook": lambda _: right("http://127.0.0.1/cds-services/order-view"),
    "wrong aud": lambda _: right("https://elsewhere.example/cds-services"),
    "aud a part of it": lambda aud: right(aud[:-1]),
    "aud with more behind it": lambda aud: right(f"{aud}.evil.example"),
    "aud missing": lambda _: signed(own_key(), HEADER, claims("", aud=None)),
    "aud empty": lambda _: right(""),
    "aud no text": lambda aud: right(aud, aud={"aud": aud}),
    "expired": lambda aud: right(aud, exp=_now() - HOUR, iat=_now() - 2 * HOUR),
    "exp a day after iat": lambda aud: right(aud, exp=_now() + 24 * HOUR),
    "exp missing": lambda aud: right(aud, exp=None),
    "exp no number": lambda aud: right(aud, exp="never"),
    "exp true": lambda aud: right(aud, exp=True),
    "exp NaN": lambda aud: right(aud, exp=float("nan")),
    "exp infinite": lambda aud: right(aud, exp=float("inf")),
    "exp beyond any clock": lambda aud: _expiring(aud, "1e400"),
    "exp of many digits": lambda aud: _expiring(aud, "9" * 5000),
    "iat in the future": lambda aud: right(aud, iat=_now() + HOUR, exp=_now() + 2 * HOUR),
    "iat missing": lambda aud: right(aud, iat=None),
    "iat no number": lambda aud: right(aud, iat=[1]),
    "not yet": lambda aud: right(aud, nbf=_now() + HOUR),
    "unknown issuer": lambda aud: right(aud, iss="https://stranger.example"),
    "issuer missing": lambda aud: right(aud, iss=None),
    "issuer no text": lambda aud: right(aud, iss=["https://orders.example"]),
    "wrong key": lambda aud: _header(aud, stranger()),
    "wrong kid": lambda aud: _header(aud, stranger(), kid="another"),
    "right key, wrong kid": lambda aud: _header(aud, kid="another"),
    "kid missing": lambda aud: _header(aud, stranger(), kid=None),
    "kid a path": lambda aud: _secret_of_kid(aud, "../../../../dev/null"),
    "kid no text": lambda aud: _header(aud, kid={"x": 1}),
    "kid a number": lambda aud: _header(aud, kid=0),
    "tampered payload": _tampered,
    "no signature": lambda aud: _resigned(aud, b""),
    "a signature of zeros": lambda aud: _resigned(aud, bytes(96)),
    "a signature cut short": lambda aud: right(aud)[:-8],
    "a signature as DER": _der_signature,
    "jku header": lambda aud: _without_key(aud, jku="https://stranger.example/keys"),
    "jku to this machine": lambda aud: _without_key(aud, jku="http://127.0.0.1:1/keys"),
    "jwk header": lambda aud: _without_key(aud, jwk=public_jwk(stranger(), KID)),
    "x5c header": lambda aud: _without_key(aud, x5c=[base64.b64encode(b"\x30\x00").decode()]),
    "x5u header": lambda aud: _without_key(aud, x5u="file:///etc/passwd"),
    "crit header": lambda aud: _header(aud, crit=["unheard-of"], **{"unheard-of": True}),
    "payload not encoded": lambda aud: _header(aud, crit=["b64"], b64=False),
    "jti missing": lambda aud: right(aud, jti=None),
    "jti empty": lambda aud: right(aud, jti=""),
    "jti no text": lambda aud: right(aud, jti=[]),
    "jti a section": lambda aud: right(aud, jti={"a": "b"}),
    "deep header": _deep_header,
    "deep payload": _deep_payload,
    "payload no section": lambda _: signed(own_key(), HEADER, b"[]"),
    "payload no JSON": lambda _: signed(own_key(), HEADER, b"\xff\xfe"),
    "header no JSON": lambda aud: signed(own_key(), b"\xff\xfe", claims(aud)),
    "header no section": lambda aud: signed(own_key(), b"[]", claims(aud)),
    "two parts": lambda aud: right(aud).rsplit(".", 1)[0],
    "four parts": lambda aud: f"{right(aud)}.AAAA",
    "five parts": lambda aud: f"{right(aud)}.AAAA.AAAA",
    "parts of nothing": lambda _: "..",
    "no base64": lambda _: "a!.b!.c!",
    "words": lambda _: "let me in",
    "nothing": lambda _: "",
}


def odd_headers(audience: str) -> dict[str, str]:
    """Values of Authorization that are no bearer token, though a right one may stand in them."""
    return {
        "Basic": f"Basic {base64.b64encode(right(audience).encode()).decode()}",
        "no scheme": right(audience),
        "another scheme": f"JWT {right(audience)}",
        "two tokens": f"Bearer {right(audience)} {right(audience)}",
        "a list": f"Bearer {right(audience)}, Bearer {right(audience)}",
        "a scheme alone": "Bearer",
        "quotes": f'Bearer "{right(audience)}"',
    }
