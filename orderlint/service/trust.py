"""Reads a trust file: whose tokens are taken, by which keys, and where the service is found.

Keys are JSON Web Keys (RFC 7517) or PEM: ES384 on P-384, and RS384 on RSA of 2,048 bits or more; of
a set, keys for something else are left out. Only public keys, and only from the file and those it
names. Never a token, a private key or a shared secret.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias
from urllib.parse import SplitResult, urlsplit

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ec import SECP384R1, EllipticCurvePublicKey
from cryptography.hazmat.primitives.asymmetric.rsa import RSAPublicKey
from cryptography.hazmat.primitives.serialization import load_pem_public_key
from jwt.algorithms import ECAlgorithm, RSAAlgorithm
from jwt.exceptions import InvalidKeyError

from orderlint.finding import Place, Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.reading.unicode_checks import decode_text
from orderlint.rulebook.yaml_fields import known_keys, listed, optional, refuse, scalar, section

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from orderlint.reading import Document

Algorithm: TypeAlias = Literal["ES384", "RS384"]
PublicKey: TypeAlias = EllipticCurvePublicKey | RSAPublicKey

FEWEST_BITS = 2048
"""Of an RSA key (RFC 7518, 3.3)."""
_PRIVATE = ("d", "p", "q", "dp", "dq", "qi", "oth", "k")
"""Members of a JWK that are secret (RFC 7518, 6.2.2, 6.3.2 and 6.4.1)."""
_SECRET = "A private key, or a secret, does not belong in a trust file. Put the public key here."
_KEYS = ("document", "format", "address", "audience", "origins", "issuers")
_ISSUER_KEYS = ("issuer", "jwks", "pem")
_NO_KEYS = "no key here can check a token; ES384 needs a P-384 key, RS384 an RSA key"


class Key(NamedTuple):
    """A public key, what it is called in tokens (None if any name will do), and its algorithm."""

    kid: str | None
    algorithm: Algorithm
    key: PublicKey


@dataclass(frozen=True, slots=True)
class Trust:
    """Whom the service trusts.

    `issuers` are those whose tokens are taken, each with the keys that check them. `address` is
    where clients find the service, without a slash at its end; '' if that is where it listens.
    `audience` is what a token may be for, besides the address of the hook that is called.
    `origins` are the web pages that may call it from a browser.
    """

    issuers: Mapping[str, tuple[Key, ...]]
    address: str = ""
    audience: tuple[str, ...] = ()
    origins: frozenset[str] = frozenset()


def read_trust(document: Document, read_beside: Callable[[str], bytes]) -> Trust:
    """The trust that a document gives. Raises Refused at the first mistake in it.

    `read_beside` reads a file that is named in it, relative to it, and raises Refused.
    """
    root = document.root
    known_keys(root, _KEYS, "a trust file")
    address, issuers = optional(root, "address"), root.get("issuers")
    if not isinstance(issuers, Listing) or not issuers.items:
        refuse(issuers or root, "issuers: is a list of one issuer or more")
    return Trust(
        _issuers(issuers.items, read_beside),
        _address(address) if address else "",
        tuple(item.text for item in listed(root, "audience")),
        frozenset(_origin(item) for item in listed(root, "origins")),
    )


def _issuers(
    items: Iterable[Node], read_beside: Callable[[str], bytes]
) -> dict[str, tuple[Key, ...]]:
    issuers: dict[str, tuple[Key, ...]] = {}
    for item in items:
        name, keys = _issuer(section(item, "an issuer", item), read_beside)
        if name.text in issuers:
            refuse(name, "this issuer stands here twice")
        issuers[name.text] = keys
    return issuers


def _issuer(record: Section, read_beside: Callable[[str], bytes]) -> tuple[Scalar, tuple[Key, ...]]:
    """An issuer by its name in tokens, with its keys."""
    known_keys(record, _ISSUER_KEYS, "an issuer")
    keys: list[Key] = []
    name, jwks, pem = scalar(record, "issuer"), record.get("jwks"), optional(record, "pem")
    if isinstance(jwks, Section):
        keys += _keys_of_jwks(jwks)
    elif jwks is not None:
        keys += _keys_in(scalar(record, "jwks"), read_beside)
    if pem is not None:
        inline = pem.text.lstrip().startswith("-----BEGIN")
        data = pem.text.encode() if inline else read_beside(pem.text)
        keys += _keys_of_pem(data, pem.place)
    if not keys:
        refuse(record, f"{_NO_KEYS}. Keys stand under jwks: or pem:")
    named = [key.kid for key in keys if key.kid is not None]
    if len(named) > len({*named}):
        refuse(record, "two keys of this issuer have one kid")
    return name, tuple(keys)


def _keys_in(name: Scalar, read_beside: Callable[[str], bytes]) -> list[Key]:
    """The keys in a file with a set of keys."""
    root = read_json(decode_text(read_beside(name.text), name.text), name.text)
    if not isinstance(root, Section):
        raise Refused("This is no set of keys (JWKS): it is no object.", root.place)
    return _keys_of_jwks(root)


def _address(text: Scalar) -> str:
    """A base address, to which paths are added."""
    parts = _split(text)
    if parts is None or parts.query or parts.fragment:
        refuse(text, "address: is an https:// or http:// address without a query")
    return text.text.strip().rstrip("/")


def _origin(text: Scalar) -> str:
    parts = _split(text)
    if parts is None or parts.path or parts.query or parts.fragment:
        refuse(text, "origins: are a scheme, a host and a port each, as in https://ehr.example.org")
    return text.text.strip().lower()


def _split(text: Scalar) -> SplitResult | None:
    """The parts of a web address of a host; None if it is none, or has a user in it."""
    try:
        parts = urlsplit(text.text.strip())
        named = parts.scheme in {"http", "https"} and parts.hostname and parts.port != 0
    except ValueError:
        return None
    return parts if named and "@" not in parts.netloc else None


def _keys_of_jwks(jwks: Section) -> list[Key]:
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
    yield _allowed(members.get("kid"), key, item.place)


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


def _keys_of_pem(data: bytes, place: Place) -> list[Key]:
    """The public key in a PEM text, called by no name. Raises Refused."""
    if b"PRIVATE KEY-----" in data:
        raise Refused(_SECRET, place)
    try:
        key = load_pem_public_key(data)
    except (ValueError, UnsupportedAlgorithm):
        message = "This is no public key in PEM (-----BEGIN PUBLIC KEY-----)."
        raise Refused(message, place) from None
    return [_allowed(None, key, place)]


def _allowed(kid: str | None, key: object, place: Place) -> Key:
    if isinstance(key, EllipticCurvePublicKey) and isinstance(key.curve, SECP384R1):
        return Key(kid, "ES384", key)
    if isinstance(key, RSAPublicKey):
        if key.key_size < FEWEST_BITS:
            raise Refused(f"An RSA key has {FEWEST_BITS} bits or more.", place)
        return Key(kid, "RS384", key)
    raise Refused("A key is RSA, or elliptic on the curve P-384.", place)
