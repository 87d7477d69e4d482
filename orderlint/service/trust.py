"""Reads a trust file: whose tokens are taken, by which keys, and where the service is found.

Only public keys, and only from the file and those it names. Never a token.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import SplitResult, urlsplit

from orderlint.finding import Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Listing, Section
from orderlint.reading.unicode_checks import decode_text
from orderlint.rulebook.yaml_fields import known_keys, listed, optional, refuse, scalar, section
from orderlint.service.keys import Key, keys_of_jwks, keys_of_pem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from orderlint.reading import Document
    from orderlint.reading.node import Node, Scalar

_KEYS = ("document", "format", "address", "audience", "origins", "issuers")
_ISSUER_KEYS = ("issuer", "jwks", "pem")
_NO_KEYS = "no key here can check a token; ES384 needs a P-384 key, RS384 an RSA key"


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
        keys += keys_of_jwks(jwks)
    elif jwks is not None:
        keys += _keys_in(scalar(record, "jwks"), read_beside)
    if pem is not None:
        inline = pem.text.lstrip().startswith("-----BEGIN")
        data = pem.text.encode() if inline else read_beside(pem.text)
        keys += keys_of_pem(data, pem.place)
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
    return keys_of_jwks(root)


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
