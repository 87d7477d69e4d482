"""HTTP/1.1 over a socket: bytes out as they are given, answers read by the letter of RFC 9112.

Nothing of a library stands between, so that a request may be as wrong as a test wants it.
"""

from __future__ import annotations

import contextlib
import json
import re
import socket
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import BinaryIO

PATIENCE = 20.0
_STATUS = re.compile(rb"HTTP/1\.[01] ([1-5][0-9][0-9]) ([\t -~]*)\r\n")
_FIELD = re.compile(rb"([!#$%&'*+.^_`|~0-9A-Za-z-]+):[ \t]*([\t -~]*?)[ \t]*\r\n")


class NotHttpError(Exception):
    """What came back is no answer as RFC 9112 writes one."""


@dataclass(frozen=True)
class Answer:
    """Status, fields by lower-case name, and the whole body."""

    status: int
    fields: Mapping[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        """The body as JSON in UTF-8, where no name stands twice and a number is a number."""
        return json.loads(self.body.decode(), object_pairs_hook=_once, parse_constant=_no_number)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError(f"a name stands twice among {[name for name, _ in pairs]}")
    return made


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is no number of JSON")


class Connection:
    """A connection that is kept: what is sent is what was given, and answers come in order."""

    def __init__(self, address: tuple[str, int], patience: float = PATIENCE):
        self.socket = socket.create_connection(address, timeout=patience)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._incoming: BinaryIO = self.socket.makefile("rb")

    def __enter__(self) -> Connection:
        return self

    def __exit__(self, *_: object) -> None:
        self._incoming.close()
        self.socket.close()

    def send(self, data: bytes) -> None:
        self.socket.sendall(data)

    def send_as_far_as_taken(self, data: bytes) -> None:
        """Send what the other side may stop reading, or close upon."""
        with contextlib.suppress(OSError):
            self.socket.sendall(data)

    def no_more_if_open(self) -> None:
        """Close this side alone, if the other is not gone."""
        with contextlib.suppress(OSError):
            self.socket.shutdown(socket.SHUT_WR)

    def answer(self, method: str = "POST") -> Answer:
        """The next answer, interim ones (1xx) passed over; NotHttpError where there is none."""
        answer = self._one(method)
        while answer.status < 200:
            answer = self._one(method)
        return answer

    def answer_if_any(self) -> Answer | None:
        """The next answer; None where the connection ends without a byte of one."""
        try:
            if not self._incoming.peek(1):  # type: ignore[attr-defined]
                return None
        except OSError:
            return None
        return self.answer()

    def _one(self, method: str) -> Answer:
        line = self._incoming.readline(4096)
        status = _STATUS.fullmatch(line)
        if not status:
            raise NotHttpError(f"no status line: {line!r}")
        fields = self._fields()
        number = int(status[1])
        empty = number < 200 or number in {204, 304} or method == "HEAD"
        return Answer(number, fields, b"" if empty else self._body(fields))

    def _fields(self) -> dict[str, str]:
        fields: dict[str, str] = {}
        while (line := self._incoming.readline(65536)) != b"\r\n":
            field = _FIELD.fullmatch(line)
            if not field:
                raise NotHttpError(f"no field: {line!r}")
            name = field[1].decode().lower()
            if name in fields and name in {"content-length", "content-type", "transfer-encoding"}:
                raise NotHttpError(f"{name} stands twice")
            fields[name] = field[2].decode()
        return fields

    def _body(self, fields: Mapping[str, str]) -> bytes:
        coding, length = fields.get("transfer-encoding"), fields.get("content-length")
        if coding is not None:
            if coding.lower() != "chunked" or length is not None:
                raise NotHttpError(f"transfer-encoding {coding}, content-length {length}")
            return self._chunks()
        if length is None:
            return self._incoming.read()  # the end of the connection ends it
        if not re.fullmatch("[0-9]+", length):
            raise NotHttpError(f"content-length {length}")
        body = self._incoming.read(int(length))
        if len(body) != int(length):
            raise NotHttpError(f"{len(body)} bytes of {length}")
        return body

    def _chunks(self) -> bytes:
        chunks = []
        while True:
            line = self._incoming.readline(4096)
            if not re.fullmatch(rb"[0-9A-Fa-f]+(;[\t -~]*)?\r\n", line):
                raise NotHttpError(f"no chunk: {line!r}")
            length = int(line.split(b";")[0], 16)
            chunk = self._incoming.read(length + 2) if length else b"\r\n"
            if len(chunk) != length + 2 or not chunk.endswith(b"\r\n"):
                raise NotHttpError("a chunk ends early")
            if not length:
                self._fields()
                return b"".join(chunks)
            chunks.append(chunk[:-2])


def request(
    method: str, path: str, host: str, body: bytes | None = None, /, **fields: str | None
) -> bytes:
    """A request by RFC 9112; a field is named with `_` for `-`, and None leaves it out."""
    named: dict[str, str | None] = {"Host": host}
    if body is not None:
        named |= {"Content-Type": "application/json", "Content-Length": str(len(body))}
    named |= {name.replace("_", "-").title(): value for name, value in fields.items()}
    lines = [f"{name}: {value}\r\n" for name, value in named.items() if value is not None]
    head = f"{method} {path} HTTP/1.1\r\n{''.join(lines)}\r\n"
    return head.encode("latin-1") + (body or b"")
