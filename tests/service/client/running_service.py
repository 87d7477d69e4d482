"""The service in a process of its own, and what is seen of it from outside (Linux: /proc)."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from service.client.wire import Answer, Connection, request

if TYPE_CHECKING:
    from service.client.hooks import Call

UNTIL_STARTED, UNTIL_ENDED = 30.0, 5.0
_ADDRESS = re.compile(r"http://[^\s/]+(?:/\S*)?")


@dataclass
class RunningService:
    """A started `orderlint serve`; `first_line` is what it said first on standard output."""

    process: subprocess.Popen[bytes]
    first_line: str
    base: str
    services: dict[str, str] = field(default_factory=dict)
    """By hook, the id of its service."""

    @property
    def address(self) -> tuple[str, int]:
        parts = urlsplit(self.base)
        assert parts.hostname
        assert parts.port
        return parts.hostname, parts.port

    @property
    def host(self) -> str:
        return urlsplit(self.base).netloc

    def path(self, rest: str = "") -> str:
        """The path of `{base}/cds-services{rest}`."""
        return f"{urlsplit(self.base).path.rstrip('/')}/cds-services{rest}"

    def path_of(self, hook: str, rest: str = "") -> str:
        """The path of the service at a hook."""
        if not self.services:
            found = self.discover().json["services"]
            self.services.update({one["hook"]: one["id"] for one in found})
        return self.path(f"/{self.services[hook]}{rest}")

    def discover(self, **fields: str | None) -> Answer:
        return self.ask(request("GET", self.path(), self.host, **fields), "GET")

    def ask(self, data: bytes, method: str = "POST") -> Answer:
        """One request over a socket of its own."""
        with Connection(self.address) as connection:
            connection.send(data)
            return connection.answer(method)

    def post(self, path: str, body: bytes, **fields: str | None) -> Answer:
        return self.ask(request("POST", path, self.host, body, **fields))

    def call(self, call: Call, **fields: str | None) -> Answer:
        """A call of the service at its hook."""
        return self.post(self.path_of(call["hook"]), as_json(call), **fields)

    def call_by_library(self, call: Call) -> Answer:
        """The same by http.client."""
        connection = http.client.HTTPConnection(*self.address, timeout=20)
        kinds = {"Content-Type": "application/json", "Accept": "application/json"}
        connection.request("POST", self.path_of(call["hook"]), as_json(call), kinds)
        answer = connection.getresponse()
        fields = {name.lower(): value for name, value in answer.getheaders()}
        got = Answer(answer.status, fields, answer.read())
        connection.close()
        return got

    def feed_back(self, hook: str, *told: Call, **fields: str | None) -> Answer:
        body = as_json({"feedback": list(told)})
        return self.post(self.path_of(hook, "/feedback"), body, **fields)

    def lives(self) -> bool:
        """Whether it still runs and answers."""
        return self.process.poll() is None and self.discover().status == 200

    def processor_ns(self) -> int:
        """Processor time of all its threads so far."""
        tasks = Path("/proc", str(self.process.pid), "task").glob("*/schedstat")
        return sum(int(task.read_text().split()[0]) for task in tasks)

    def resident_bytes(self) -> int:
        pages = Path("/proc", str(self.process.pid), "statm").read_text().split()[1]
        return int(pages) * os.sysconf("SC_PAGE_SIZE")

    def end(self, by: signal.Signals = signal.SIGTERM) -> tuple[int, float]:
        """End it by a signal: its status, and the seconds it took."""
        began = time.monotonic()
        self.process.send_signal(by)
        try:
            status = self.process.wait(4 * UNTIL_ENDED)
        finally:
            self.process.kill()
        return status, time.monotonic() - began


def as_json(data: Any) -> bytes:
    return json.dumps(data, ensure_ascii=False).encode()


def started(folder: Path, *options: str | Path, port: int = 0) -> RunningService:
    """Start it; what it writes goes to files in `folder`, where its own files are too."""
    environment = {**os.environ, "XDG_STATE_HOME": str(folder)}
    written, errors = folder / "stdout.txt", folder / "stderr.txt"
    with written.open("wb") as out, errors.open("ab") as err:
        process = subprocess.Popen(
            command(*options, port=port), stdout=out, stderr=err, env=environment
        )
    line = _first_line(process, written)
    address = _ADDRESS.search(line)
    if not address:
        process.kill()
        raise AssertionError(f"{line!r}, {errors.read_text()}")
    base = address[0].rstrip("/").removesuffix("/cds-services")
    return RunningService(process, line, base)


def command(*options: str | Path, port: int = 0) -> list[str]:
    """The command that starts it."""
    start = [sys.executable, "-P", "-m", "orderlint", "serve", "--port", str(port)]
    return [*start, *map(str, options)]


def _first_line(process: subprocess.Popen[bytes], written: Path) -> str:
    """What stands in the file once a line is whole, or once it has ended."""
    until = time.monotonic() + UNTIL_STARTED
    while time.monotonic() < until:
        ended = process.poll() is not None
        line, end, _ = written.read_text(encoding="utf-8").partition("\n")
        if end or ended:
            return line
        time.sleep(0.02)
    return ""
