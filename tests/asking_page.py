"""Asks the local page without a network: what is sent, as a browser does, and what is answered."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from urllib.parse import urlencode

from orderlint.page.entries import entries_of
from orderlint.reading import read

EXAMPLES = Path(__file__).parents[1] / "examples"
CLEAN = EXAMPLES / "clean.yaml"
AT = datetime.fromisoformat("2026-03-02T15:30:00-06:00")
HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(1)>{{7*7}}'


def texts_of(path):
    return dict(entries_of(read(path.read_bytes(), path.name, "order")))


def post(site, path, texts):
    return site.answer("POST", path, urlencode(texts).encode())


def checked(site, texts):
    return json.loads(post(site, "check", texts).text)


def texts_of_text(text):
    return dict(entries_of(read(text.encode(), "order.yaml", "order")))
