"""The container file: what it copies is there, and what it runs is a command of the tool."""

from __future__ import annotations

import json
import re
from pathlib import Path

from running import run

ROOT = Path(__file__).resolve().parents[1]
LINES = (ROOT / ".ci/Containerfile").read_text(encoding="utf-8").splitlines()
STEPS = [line.partition(" ")[::2] for line in LINES if line and not line.startswith("#")]


def said(word):
    return [rest for step, rest in STEPS if step == word]


def test_what_is_copied_is_there_and_is_all_that_a_wheel_is_made_of():
    copied = [part for rest in said("COPY") if "--from" not in rest for part in rest.split()[:-1]]
    assert all((ROOT / part).exists() for part in copied)
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    needed = {"pyproject.toml", ".wheel", "schemas", "orderlint"}
    needed |= {*re.findall(r'^(?:readme|license-files) = \[?"(.*?)"', project, re.MULTILINE)}
    assert needed <= {*copied}


def test_it_runs_without_root():
    (user,) = said("USER")
    assert re.fullmatch(r"[1-9]\d*:[1-9]\d*", user)
    order = [step for step, _ in STEPS]
    assert order.index("USER") < order.index("ENTRYPOINT")


def test_it_serves_by_trust_alone_and_is_asked_where_it_listens():
    entry, arguments = (json.loads(said(word)[0]) for word in ("ENTRYPOINT", "CMD"))
    assert Path(entry[0]).name == "orderlint"
    ran = run(*entry[1:], *arguments)
    assert (ran.status, ran.out) == (2, b"")
    assert "/etc/orderlint/trust.yaml: There is no such file." in ran.err
    (port,) = said("EXPOSE")
    assert entry[entry.index("--port") + 1] == port
    assert f"http://127.0.0.1:{port}/health" in said("HEALTHCHECK")[0]
