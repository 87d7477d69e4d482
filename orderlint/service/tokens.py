"""Takes or refuses the token of a request: a JSON Web Token of an issuer that is trusted.

Every token is taken once. Why one is refused is told to nobody, and no token is kept or shown.
"""

from __future__ import annotations

import hashlib
import heapq
import json
import math
import threading
from typing import TYPE_CHECKING, NamedTuple, NoReturn

import jwt

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from orderlint.service.trust import Key, Trust

LONGEST_TOKEN = 8_192
"""Characters: a token has some hundred."""
LONGEST_LIFE = 3_600
"""Seconds from its issue to its end, and from now to its end: so long is its id held."""
CLOCKS_APART = 60
"""Seconds by which the clock of an issuer may be ahead of ours."""
MOST_IDS = 100_000
"""Ids held at a time. Where there is no room for one more, its token is refused, not forgotten."""


class Claims(NamedTuple):
    """What of a token's claims is used, each of its kind; times in seconds since 1970 UTC."""

    issuer: str
    audience: frozenset[str]
    token_id: str
    issued: float
    not_before: float
    ends: float


class TokenGate:
    """Lets in each token once. `clock` gives the time in seconds since 1970 UTC."""

    def __init__(self, trust: Trust, clock: Callable[[], float]) -> None:
        self._trust = trust
        self._clock = clock
        self._used = UsedIds()

    def admits(self, authorization: str, address: str) -> bool:
        """Whether the header `Authorization` of a request to `address` has a token that is taken.

        INVARIANT: nothing to which a token points is looked up, and no key that it brings is used.
        """
        scheme, _, token = authorization.partition(" ")
        if scheme.lower() != "bearer" or not 0 < len(token) <= LONGEST_TOKEN:
            return False
        try:
            claims = self._verified(token)
        except (jwt.InvalidTokenError, ValueError, TypeError, OverflowError, RecursionError):
            return False
        now = self._clock()
        is_for_us = not claims.audience.isdisjoint({address, *self._trust.audience})
        return is_for_us and _is_in_time(claims, now) and self._used.take(claims, now)

    def _verified(self, token: str) -> Claims:
        """The claims of a token that its issuer has signed. Raises as its parts are at fault."""
        said = _SIGNATURES.decode_complete(token, options={"verify_signature": False})
        header, claims = said["header"], _claims(said["payload"])
        if "crit" in header or str(header.get("typ", "JWT")).upper() != "JWT":
            raise ValueError
        for key in self._trust.issuers.get(claims.issuer, ()):
            if _is_meant(key, header) and _has_signed(key, token):
                return claims
        raise ValueError


_SIGNATURES = jwt.PyJWS()


def _is_meant(key: Key, header: Mapping[str, object]) -> bool:
    is_named = key.kid is None or key.kid == header.get("kid")
    return is_named and key.algorithm == header.get("alg")


def _has_signed(key: Key, token: str) -> bool:
    try:
        _SIGNATURES.decode(token, key.key, algorithms=[key.algorithm])
    except jwt.InvalidSignatureError:
        return False
    return True


def _claims(payload: bytes) -> Claims:
    """The claims in a token. Raises ValueError where one is missing or of another kind."""
    said = json.loads(payload, parse_constant=_no_number)
    if not isinstance(said, dict):
        raise ValueError
    issuer, token_id, audience = said.get("iss"), said.get("jti"), said.get("aud")
    named = map(_text, audience if isinstance(audience, list) else [audience])
    issued, ends = _time(said.get("iat")), _time(said.get("exp"))
    not_before = _time(said["nbf"]) if "nbf" in said else issued
    return Claims(_text(issuer), frozenset(named), _text(token_id), issued, not_before, ends)


def _no_number(_text: str) -> NoReturn:
    raise ValueError


def _text(said: object) -> str:
    if not isinstance(said, str) or not said:
        raise ValueError
    return said


def _time(said: object) -> float:
    if isinstance(said, bool) or not isinstance(said, (int, float)) or not math.isfinite(said):
        raise ValueError
    return float(said)


def _is_in_time(claims: Claims, now: float) -> bool:
    begins = max(claims.issued, claims.not_before)
    life = claims.ends - min(claims.issued, now)
    return begins <= now + CLOCKS_APART and now < claims.ends and life <= LONGEST_LIFE


class UsedIds:
    """The ids of the tokens that were taken, until each has ended: at most MOST_IDS at a time."""

    def __init__(self, most: int = MOST_IDS) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._held: set[bytes] = set()
        self._ends: list[tuple[float, bytes]] = []
        self._forgotten_to = float("-inf")

    def take(self, claims: Claims, now: float) -> bool:
        """Take a token's id; False if it was taken before, or there is no room to remember it."""
        named = f"{len(claims.issuer)} {claims.issuer} {claims.token_id}"
        digest = hashlib.sha256(named.encode("utf-8", "surrogatepass")).digest()
        with self._lock:
            self._forget(now)
            # A clock that was set back does not bring back what was forgotten.
            if claims.ends <= self._forgotten_to:
                return False
            if digest in self._held or len(self._held) >= self._most:
                return False
            self._held.add(digest)
            heapq.heappush(self._ends, (claims.ends, digest))
        return True

    def _forget(self, now: float) -> None:
        while self._ends and self._ends[0][0] <= now:
            self._forgotten_to, digest = heapq.heappop(self._ends)
            self._held.discard(digest)
