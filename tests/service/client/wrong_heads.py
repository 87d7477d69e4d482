"""Heads of requests that are wrong, each by its name."""

from __future__ import annotations

from random import Random

GET = b"GET /cds-services HTTP/1.1\r\n"


def _get(*lines: bytes) -> bytes:
    """A request for discovery with these lines after the first."""
    return GET + b"".join(line + b"\r\n" for line in lines) + b"\r\n"


def _post(*lines: bytes, path: bytes = b"/cds-services/order-sign") -> bytes:
    """A POST of two bytes with these lines beside those of its length."""
    given = b"".join(line + b"\r\n" for line in lines)
    return b"POST " + path + b" HTTP/1.1\r\n" + given + b"Content-Length: 2\r\n\r\n{}"


LENGTHS = {
    "the same twice": [b"Content-Length: 2", b"Content-Length: 2"],
    "two that differ": [b"Content-Length: 2", b"Content-Length: 40"],
    "a list": [b"Content-Length: 2, 2"],
    "two that differ in a list": [b"Content-Length: 2, 40"],
    "beside chunks": [b"Content-Length: 2", b"Transfer-Encoding: chunked"],
    "beside chunks that are said late": [b"Transfer-Encoding: chunked", b"Content-Length: 2"],
    "a sign": [b"Content-Length: +2"],
    "below zero": [b"Content-Length: -2"],
    "a fraction": [b"Content-Length: 2.0"],
    "other digits": ["Content-Length: ٢".encode()],
    "base 16": [b"Content-Length: 0x2"],
    "an underscore": [b"Content-Length: 0_2"],
    "many digits": [b"Content-Length: " + b"9" * 6000],
    "nothing": [b"Content-Length:"],
    "a blank before the colon": [b"Content-Length : 2"],
    "an unknown coding": [b"Transfer-Encoding: x-none"],
    "chunked twice": [b"Transfer-Encoding: chunked, chunked"],
    "no length": [],
}

HEADS = {
    "an empty line": b"\r\n\r\n",
    "words": b"hello\r\n\r\n",
    "no version": b"GET /cds-services\r\n\r\n",
    "another version": b"GET /cds-services HTTP/9.9\r\n\r\n",
    "a version of letters": b"GET /cds-services HTTP/x.y\r\n\r\n",
    "no host": _get(),
    "two hosts": _get(b"Host: a", b"Host: b"),
    "many fields": _get(*[b"A: b"] * 20_000),
    "a long field": _get(b"A: " + b"x" * 2_000_000),
    "a long path": b"GET /" + b"x" * 2_000_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
    "no colon": _get(b"Host"),
    "a folded field": _get(b"Host: x", b"A: b", b" c"),
    "zeros in a field": _get(b"Host: x", b"A: \0\0"),
    "a zero in the path": b"GET /cds-services\0 HTTP/1.1\r\nHost: x\r\n\r\n",
    "bytes in the path": b"GET /\xff\xfe HTTP/1.1\r\nHost: x\r\n\r\n",
    "bytes in a field": _get(b"Host: x", b"Authorization: \xff\xfe"),
    "an escape that is none": b"GET /%zz%f HTTP/1.1\r\nHost: x\r\n\r\n",
    "an escape that is no UTF-8": _post(b"Host: x", path=b"/cds-services/%ff%fe"),
    "a way up": b"GET /cds-services/../../../../etc/passwd HTTP/1.1\r\nHost: x\r\n\r\n",
    "a way up in escapes": b"GET /%2e%2e/%2e%2e/etc/passwd HTTP/1.1\r\nHost: x\r\n\r\n",
    "a proxy's request": b"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n\r\n",
    "a URL that is none": b"GET http://[::1 HTTP/1.1\r\nHost: [::1\r\n\r\n",
    "a tunnel": b"CONNECT evil.example:443 HTTP/1.1\r\nHost: evil.example:443\r\n\r\n",
    "a star": b"OPTIONS * HTTP/1.1\r\nHost: x\r\n\r\n",
    "a method that is none": b"G\xffT /cds-services HTTP/1.1\r\nHost: x\r\n\r\n",
    "a long method": b"G" * 100_000 + b" / HTTP/1.1\r\nHost: x\r\n\r\n",
    "small letters": b"get /cds-services http/1.1\r\nhost: x\r\n\r\n",
    "TRACE": b"TRACE /cds-services HTTP/1.1\r\nHost: x\r\n\r\n",
    "an upgrade": _get(b"Host: x", b"Connection: Upgrade", b"Upgrade: h2c"),
    "HTTP/2": b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    "TLS": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(range(256)) * 2,
    "line feeds alone": b"GET /cds-services HTTP/1.1\nHost: x\n\n",
    "returns alone": b"GET /cds-services HTTP/1.1\rHost: x\r\r",
    "an answer": b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\n\r\n",
    "an underscore for a dash": _post(b"Host: x", b"Content_Length: 5"),
    "a wait that is unknown": _post(b"Host: x", b"Expect: gold"),
    "noise": Random(1).randbytes(5000),
    "noise in lines": Random(2).randbytes(5000).replace(b" ", b"\r\n"),
}
