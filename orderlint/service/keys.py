"""Reads public keys by which tokens are checked: JSON Web Keys (RFC 7517), and PEM.

ES384 on P-384, and RS384 on RSA of 2,048 bits or more; of a set, keys for something else are left
out. Never a private key or a shared secret.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ec import SECP384R1, EllipticCurvePublicKey
from cryptography.hazmat.primitives.asymmetric.rsa import RSAPublicKey
from cryptography.hazmat.primitives.serialization import load_pem_public_key
from jwt.algorithms import ECAlgorithm, RSAAlgorithm
from jwt.exceptions import InvalidKeyError

from orderlint.finding import Place, Refused
from orderlint.reading.node import Listing, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.reading.node import Node

Algorithm: TypeAlias = Literal["ES384", "RS384"]
PublicKey: TypeAlias = EllipticCurvePublicKey | RSAPublicKey

FEWEST_BITS = 2048
"""Of an RSA key (RFC 7518, 3.3)."""
_PRIVATE = ("d", "p", "q", "dp", "dq", "qi", "oth", "k")
"""Members of a JWK that are secret (RFC 7518, 6.2.2, 6.3.2 and 6.4.1)."""
_SECRET = "A private key, or a secret, does not belong in a trust file. Put the public key here."


class Key(NamedTuple):
    """A public key, what it is called in tokens (None if any name will do), and its algorithm."""

    kid: str | None
    algorithm: Algorithm
    key: PublicKey


def keys_of_jwks(jwks: Section) -> list[Key]:
    """The keys of a set (RFC 7517, 5) that can check tokens. Raises Refused."""
    found = jwks.get("keys")
    if not isinstance(found, Listing):
        raise Refused("This is no set of keys (JWKS): `keys` is a list.", jwks.place)
    return [key for item in found.items for key in _key(item)]


def _key(item: Node) -> Iterator[Key]:
    """The key, if it is for the signatures that are taken."""
    if not isinstance(item, Section):
        raise Refused("A key is an object with names and values (JWK).", item.place)
    if any(item.get(name) is not None for name in _PRIVATE):
        raise Refused(_SECRET, item.place)
    members = {
        entry.key.text: entry.value.text
        for entry in item.entries
        if isinstance(entry.value, Scalar)
    }
    algorithm = _algorithm(members)
    if algorithm is None:
        return
    reader = ECAlgorithm if algorithm == "ES384" else RSAAlgorithm
    try:
        key = reader.from_jwk({str(name): text for name, text in members.items()})
    except (InvalidKeyError, ValueError, KeyError, TypeError):
        raise Refused("This key cannot be read.", item.place) from None
    yield _checked(members.get("kid"), key, item.place)


def _algorithm(members: dict[str, str]) -> Algorithm | None:
    """What a key is for, by what it says of itself; None if it is for something else."""
    if members.get("use", "sig") != "sig":
        return None
    own: dict[tuple[str | None, str | None], Algorithm] = {
        ("EC", "P-384"): "ES384",
        ("RSA", None): "RS384",
    }
    algorithm = own.get((members.get("kty"), members.get("crv")))
    return algorithm if members.get("alg", algorithm) == algorithm else None


def keys_of_pem(data: bytes, place: Place) -> list[Key]:
    """The public key in a PEM text, called by no name. Raises Refused."""
    if b"PRIVATE KEY-----" in data:
        raise Refused(_SECRET, place)
    try:
        key = load_pem_public_key(data)
    except (ValueError, UnsupportedAlgorithm):
        message = "This is no public key in PEM (-----BEGIN PUBLIC KEY-----)."
        raise Refused(message, place) from None
    return [_checked(None, key, place)]


def _checked(kid: str | None, key: object, place: Place) -> Key:
    if isinstance(key, EllipticCurvePublicKey) and isinstance(key.curve, SECP384R1):
        return Key(kid, "ES384", key)
    if isinstance(key, RSAPublicKey):
        if key.key_size < FEWEST_BITS:
            raise Refused(f"An RSA key has {FEWEST_BITS} bits or more.", place)
        return Key(kid, "RS384", key)
    raise Refused("A key is RSA, or elliptic on the curve P-384.", place)
