"""The keys of an issuer that is trusted."""

from __future__ import annotations

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, rsa


@pytest.fixture(scope="session")
def curve_key():
    return ec.generate_private_key(ec.SECP384R1())


@pytest.fixture(scope="session")
def rsa_key():
    return rsa.generate_private_key(65537, 2048)
