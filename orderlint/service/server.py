"""Serves the WSGI function over HTTP/1.1, in one process with several threads.

Bounds what a client may send, how slowly, and how many may; ends in order. Never what is answered.
"""

from __future__ import annotations

import contextlib
import logging
import socket
import time
from http import HTTPStatus
from ipaddress import ip_address
from typing import TYPE_CHECKING

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.server import TcpWSGIServer
from waitress.task import ErrorTask, ThreadedTaskDispatcher

from orderlint.service.guards import HEADERS, MOST_BYTES, MOST_HEAD_BYTES

if TYPE_CHECKING:
    from wsgiref.types import WSGIApplication

THREADS = 4
MOST_CONNECTIONS = 200
LONGEST_REQUEST = 10
"""Seconds from the first byte of a request to the last byte of its answer."""
LONGEST_IDLE = 60
"""Seconds for which a connection is kept for a next request."""
LONGEST_ENDING = 3
"""Seconds in which the requests under way are answered, once the service is to end."""
_LOOK = 1
"""Seconds after which connections are looked at again."""


def listening(host: str, port: int) -> socket.socket:
    """A socket that is bound to a host and a port; 0 takes one that is free. Raises OSError."""
    family, _, _, _, address = socket.getaddrinfo(
        host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
    )[0]
    bound = socket.socket(family, socket.SOCK_STREAM)
    try:
        # A port that was just used may be used again; one that is in use may not.
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind(address)
        bound.listen()
    except OSError:
        bound.close()
        raise
    return bound


def is_loopback(bound: socket.socket) -> bool:
    """Whether only this machine can reach a socket."""
    return ip_address(bound.getsockname()[0]).is_loopback


def is_anywhere(bound: socket.socket) -> bool:
    """Whether a socket is bound to every address of this machine."""
    return ip_address(bound.getsockname()[0]).is_unspecified


def address_of(bound: socket.socket) -> str:
    """The address of a socket on the web, without a slash at its end."""
    host, port = bound.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


class Server(TcpWSGIServer):  # type: ignore[misc]
    """The service at a bound socket. It serves from `run` on, until `stop` is called."""

    def __init__(self, application: WSGIApplication, bound: socket.socket) -> None:
        # What it says of requests may hold their texts.
        logging.getLogger("waitress").setLevel(logging.CRITICAL)
        self.channel_class = _Channel
        self._is_ending = False
        dispatcher = ThreadedTaskDispatcher()
        dispatcher.set_thread_count(THREADS)
        info = (bound.family, bound.type, bound.proto, bound.getsockname())
        super().__init__(
            application,
            {},
            True,
            bound,
            dispatcher=dispatcher,
            adj=_adjustments(),
            bind_socket=False,
            sockinfo=info,
        )

    def stop(self) -> None:
        """Have `run` end soon. May be called by a signal's handler, and by any thread."""
        if not self._is_ending:
            self._is_ending = True
            self.pull_trigger()

    def run(self) -> None:
        """Serve until `stop`; then answer what is under way, for LONGEST_ENDING at most."""
        while not self._is_ending:
            self._turn()
        self.del_channel()
        self.socket.close()
        until = time.monotonic() + LONGEST_ENDING
        while time.monotonic() < until and any(map(_is_busy, self._channels())):
            self._turn()
        self.task_dispatcher.shutdown(timeout=_LOOK)
        wasyncore.close_all(self._map)

    def maintenance(self, now: float) -> None:
        """Close the connections that wait for a request, or take for one, too long."""
        for channel in self._channels():
            is_busy = channel.is_draining or _is_busy(channel)
            since, longest = (
                (channel.began, LONGEST_REQUEST)
                if is_busy
                else (channel.last_activity, LONGEST_IDLE)
            )
            if since < now - longest:
                channel.handle_close()

    def _channels(self) -> list[_Channel]:
        return [*self.active_channels.values()]

    def _turn(self) -> None:
        wasyncore.loop(timeout=_LOOK, use_poll=True, map=self._map, count=1)


def _adjustments() -> Adjustments:
    return Adjustments(
        threads=THREADS,
        connection_limit=MOST_CONNECTIONS,
        cleanup_interval=_LOOK,
        # One more, since the library refuses a body of so many bytes.
        max_request_body_size=MOST_BYTES + 1,
        max_request_header_size=MOST_HEAD_BYTES,
        inbuf_overflow=MOST_BYTES + 1,
        outbuf_overflow=4 * MOST_BYTES,
        log_socket_errors=False,
        clear_untrusted_proxy_headers=False,
        ident=None,
    )


class _StrictParser(HTTPRequestParser):  # type: ignore[misc]
    """Refuses what two servers in a row could read in two ways (RFC 9112, 6.1 and 6.3)."""

    def parse_header(self, header_plus: bytes) -> None:
        try:
            super().parse_header(header_plus)
        except ParsingError:
            raise
        except ValueError:  # a length of thousands of digits, an address with half a bracket
            raise ParsingError("") from None
        if self.chunked and "CONTENT_LENGTH" in self.headers:
            raise ParsingError("")
        if "TRANSFER_ENCODING" in self.headers:  # of HTTP/1.0, and so not read
            raise ParsingError("")


class _Refusal(ErrorTask):  # type: ignore[misc]
    """The answer to what is no request: a status, and nothing of what was sent."""

    def execute(self) -> None:
        self.channel.is_refused = True
        status = self.request.error.code
        # A coding of the body that nobody knows is a mistake of the client's.
        status = HTTPStatus.BAD_REQUEST if status == HTTPStatus.NOT_IMPLEMENTED else status
        self.status = f"{status} {HTTPStatus(status).phrase}"
        self.response_headers.extend(HEADERS.items())
        self.set_close_on_finish()
        self.content_length = 0
        self.write(b"")


class _Channel(HTTPChannel):  # type: ignore[misc]
    """A connection that knows when its present request began, in seconds since 1970 UTC.

    After a refusal it takes in, and throws away, what the client has still to send: else the system
    would throw away the answer (RFC 9112, 9.6).
    """

    parser_class = _StrictParser
    error_task_class = _Refusal
    began = 0.0
    is_refused = is_draining = False

    def received(self, data: bytes) -> bool:
        if self.request is None and not self.requests:
            self.began = time.time()
        return bool(super().received(data))

    def readable(self) -> bool:
        return self.is_draining or bool(super().readable())

    def writable(self) -> bool:
        return not self.is_draining and bool(super().writable())

    def handle_read(self) -> None:
        if self.is_draining:
            self.recv(self.adj.recv_bytes)  # closes at the end of what is sent
        else:
            super().handle_read()

    def handle_close(self) -> None:
        if self.is_refused and self.connected and not self.is_draining:
            self.is_draining = True
            with contextlib.suppress(OSError):
                self.socket.shutdown(socket.SHUT_WR)
                return
        super().handle_close()


def _is_busy(channel: _Channel) -> bool:
    return bool(channel.request is not None or channel.requests or channel.total_outbufs_len)
