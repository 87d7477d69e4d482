"""The service as a process: its first line, its port, how it ends, and where it listens."""

from __future__ import annotations

import contextlib
import signal
import socket
import subprocess
import threading

import pytest
from service.client.hostile import GOOD, TEXT
from service.client.running_service import UNTIL_ENDED, command, started
from service.client.wire import Connection, NotHttpError, request


def test_it_ends_in_time_at_a_signal_whatever_is_under_way(tmp_path):
    service = started(tmp_path)
    data = request("POST", service.path_of("order-sign"), service.host, TEXT)
    with Connection(service.address) as idle, Connection(service.address) as half:
        idle.send(data)
        assert idle.answer().status == 200
        half.send(data[:-5])
        statuses = []
        busy = [threading.Thread(target=_ask_on, args=(service, statuses)) for _ in range(3)]
        for one in busy:
            one.start()
        ended, took = service.end(signal.SIGTERM)
        for one in busy:
            one.join()
    assert (ended, "Traceback" in (tmp_path / "stderr.txt").read_text()) == (0, False)
    assert took < UNTIL_ENDED
    assert set(statuses) <= {200}
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(service.address, 2)


def _ask_on(service, statuses):
    """Ask until nobody answers."""
    with contextlib.suppress(OSError, NotHttpError):
        while True:
            statuses.append(service.call(GOOD).status)


def refused_start(folder, *options, port=0):
    """What it says on standard error where it does not start."""
    ran = subprocess.run(
        command(*options, port=port), capture_output=True, timeout=30, cwd=folder, check=False
    )
    assert (ran.returncode, ran.stdout) == (2, b"")
    said = ran.stderr.decode()
    assert said
    assert "Traceback" not in said
    return said


def test_a_busy_port_is_said_with_status_2(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        assert str(port) in refused_start(tmp_path, port=port)


def test_it_listens_on_this_machine_alone(service):
    assert service.address[0] in {"127.0.0.1", "localhost"}
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.2", service.address[1]), 2)
