"""The trust file of the tests: one issuer with an elliptic key and an RSA key, and one audience."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from service.client.attacks import KID, RSA_KID, own_key
from service.client.tokens import ISSUER, public_jwk, rsa_key

if TYPE_CHECKING:
    from pathlib import Path

AUDIENCE = "https://checks.example/cds-services"


def trust_file(folder: Path) -> Path:
    """Write it as schemas/trust.schema.json has it; JSON is YAML too."""
    keys = [public_jwk(own_key(), KID), public_jwk(rsa_key("trusted"), RSA_KID)]
    trust = {
        "document": "trust",
        "format": 1,
        "audience": [AUDIENCE],
        "issuers": [{"issuer": ISSUER, "jwks": {"keys": keys}}],
    }
    file = folder / "trust.yaml"
    file.write_text(json.dumps(trust), encoding="utf-8")
    return file
