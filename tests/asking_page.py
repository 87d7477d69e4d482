"""Asks the local page without a network: what is sent, as a browser does, and what is answered."""

from __future__ import annotations

import html
import json
import re
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
    return followed(site, site.answer("POST", path, urlencode(texts).encode()))


def followed(site, answer):
    """The page to which a browser is sent on, where that has the form."""
    if not answer.goes_to.startswith("/key/at/"):
        return answer
    assert answer.status == 303
    return site.answer("GET", answer.goes_to.removeprefix("/key/"), b"")


def checked(site, texts):
    return json.loads(post(site, "check", texts).text)


def texts_of_text(text):
    return dict(entries_of(read(text.encode(), "order.yaml", "order")))


def send_file(site, data, name, texts, path="open"):
    """Open a file that is chosen, as a browser sends it beside the other texts."""
    data = data.encode() if isinstance(data, str) else data
    disposition = "Content-Disposition: form-data; name"
    parts = [f'{disposition}="{key}"\r\n\r\n{text}'.encode() for key, text in texts.items()]
    parts.append(f'{disposition}="upload"; filename="{name}"\r\n\r\n'.encode() + data)
    body = b"".join(b"--edge\r\n" + part + b"\r\n" for part in parts) + b"--edge--\r\n"
    kind = "multipart/form-data; boundary=edge"
    return followed(site, site.answer("POST", path, body, kind))


def fields_in(page):
    """What a browser would send of the form in a page."""
    page = page.partition("<script>")[0]
    sent = {}
    for tag in re.findall(r"<input [^>]*>", page):
        given = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if given.get("type") == "file" or ("checkbox" in tag and " checked" not in tag):
            continue
        sent[given["name"]] = given.get("value", "")
    for name, inside in re.findall(
        r'<textarea[^>]* name="([^"]*)"[^>]*>\n(.*?)</textarea>', page, 16
    ):
        sent[name] = inside
    for name, inside in re.findall(r'<select[^>]* name="([^"]*)"[^>]*>(.*?)</select>', page, 16):
        picked = re.search(r'<option selected(?: value="([^"]*)")?>(.*?)</option>', inside, 16)
        sent[name] = (picked[1] or picked[2]) if picked else ""
    return {name: html.unescape(text) for name, text in sent.items()}
