"""The service as a process: its first line, its port, how it ends, and where it listens."""

from __future__ import annotations

import contextlib
import json
import signal
import socket
import subprocess
import threading

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from service.client.attacks import own_key
from service.client.hostile import GOOD, TEXT
from service.client.running_service import UNTIL_ENDED, command, started
from service.client.tokens import ISSUER, pem, public_jwk
from service.client.wire import Connection, NotHttpError, request


@pytest.mark.slow
@pytest.mark.parametrize("sent", [0, pytest.param(-5, marks=pytest.mark.deep)])
def test_it_ends_in_time_at_a_signal_whatever_is_under_way(sent, tmp_path):
    service = started(tmp_path)
    data = request("POST", service.path_of("order-sign"), service.host, TEXT)
    with Connection(service.address) as idle, Connection(service.address) as half:
        idle.send(data)
        assert idle.answer().status == 200
        half.send(data[:sent])  # nothing, or a request without its end
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


@pytest.mark.slow
def test_a_busy_port_is_said_with_status_2(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        assert str(port) in refused_start(tmp_path, port=port)


@pytest.mark.slow
@pytest.mark.parametrize("host", ["0.0.0.0", pytest.param("::", marks=pytest.mark.deep)])
def test_it_listens_elsewhere_only_if_somebody_is_trusted(host, tmp_path):
    assert "--trust" in refused_start(tmp_path, "--host", host)


SOUND = {"issuer": ISSUER, "jwks": {"keys": [public_jwk(own_key(), "a")]}}
PRIVATE = own_key().private_bytes(
    serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
)
WEAK = rsa.generate_private_key(65537, 1024)
UNTRUSTED = {
    "no issuer": [],
    "an issuer without a key": [{"issuer": ISSUER}],
    "no key in a set": [{"issuer": ISSUER, "jwks": {"keys": []}}],
    "a shared secret": [{"issuer": ISSUER, "jwks": {"keys": [{"kty": "oct", "k": "c2VjcmV0"}]}}],
    "an RSA key that is short": [{"issuer": ISSUER, "jwks": {"keys": [public_jwk(WEAK, "a")]}}],
    "the same, as PEM": [{"issuer": ISSUER, "pem": pem(WEAK).decode()}],
    "a private key": [{"issuer": ISSUER, "pem": PRIVATE.decode()}],
    "a point off the curve": [
        {"issuer": ISSUER, "jwks": {"keys": [{**public_jwk(own_key(), "a"), "x": "AAAA"}]}}
    ],
    "an issuer twice": [SOUND, SOUND],
    "a file that is not there": [{"issuer": ISSUER, "jwks": "none.json"}],
    "a file elsewhere on the network": [{"issuer": ISSUER, "jwks": "https://evil.example/keys"}],
    "a member that is unknown": [{**SOUND, "algorithms": ["none"]}],
}


@pytest.mark.deep
@pytest.mark.parametrize("name", UNTRUSTED)
def test_a_trust_file_that_trusts_nobody_is_refused(name, tmp_path):
    file = tmp_path / "trust.yaml"
    trust = {"document": "trust", "format": 1, "issuers": UNTRUSTED[name]}
    file.write_text(json.dumps(trust), encoding="utf-8")
    assert f"{tmp_path}/" in refused_start(tmp_path, "--trust", file)


@pytest.mark.slow
def test_it_listens_on_this_machine_alone(service):
    assert service.address[0] in {"127.0.0.1", "localhost"}
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.2", service.address[1]), 2)
