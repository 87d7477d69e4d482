"""Whoever changes a rule file of a checkout is told where the mistake is; in a wheel nobody is."""

from __future__ import annotations

import time

import pytest
from rule_files import DERIVED, MARK, SOURCES, family, place_of_mark, policy, record
from running import AT, CLEAN, run

from orderlint.rulebook import load, prebuilt_files, rules_folder
from orderlint.rulebook.source_documents import shipped_files

SLIPS = {
    "a misspelled field": (
        {"require": f"{MARK}puase.lower < pause.upper"},
        "there is no field puase.lower; did you mean pause.lower?",
    ),
    "a wrong operator": (
        {"require": f"pause.lower {MARK}=> pause.upper"},
        "this does not read as a condition",
    ),
    "a misspelled key": ({f"{MARK}harms": "drug"}, "a rule has no key harms; did you mean harm?"),
    "an unknown level": ({"level": f"{MARK}warning"}, "level: is one of: do-not-start, clarify"),
    "a cover of no rule": ({"covers": f"[{MARK}demmo]"}, "there is no rule demmo"),
    "a text that is no YAML": (
        {"says": f"The limit{MARK}: {{pause.lower}}."},
        "This cannot be read as YAML",
    ),
    "a misspelled field in words": (
        {"says": f"The limit is {MARK}{{pause.lowr}}."},
        "there is no field pause.lowr; did you mean pause.lower?",
    ),
}


@pytest.fixture
def verify(tmp_path, monkeypatch):
    """Checks an order with a rule file of this text in the folder of rules."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(rules_folder, "FOLDER", str(tmp_path))
    monkeypatch.setattr(prebuilt_files, "SHIPPED", str(tmp_path / "prebuilt"))
    monkeypatch.setattr(prebuilt_files, "_BEGAN", time.time_ns() * 2)
    cached = (load._built_in, rules_folder.document, shipped_files)

    def of(rules):
        texts = {"demo": rules, "policy": policy(), "derived": DERIVED, "sources": SOURCES}
        for name, text in texts.items():
            (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
        for each in cached:
            each.cache_clear()
        return run("verify", CLEAN, *AT)

    yield of
    for each in cached:
        each.cache_clear()


def slipped(changes):
    """A rule file with a mistake at a mark, and the place of that."""
    text = family(record(**changes)).replace("format: 1\n", "format: 1\nrank: 1\n", 1)
    return text.replace(MARK, "", 1), place_of_mark(text, "rules/demo.yaml")


def test_a_rule_file_without_a_mistake_is_asked(verify):
    assert verify(slipped({"why": f"{MARK}Invented."})[0]).status == 0


@pytest.mark.parametrize("slip", SLIPS)
def test_in_a_checkout_a_mistake_is_told_with_its_place(slip, verify):
    changes, message = SLIPS[slip]
    text, place = slipped(changes)
    ran = verify(text)
    assert (ran.status, ran.out) == (70, b"")
    assert ran.err.startswith(f"orderlint: a rule file has a mistake. {place}: {message}")
    assert ran.err.count("\n") == 1


def test_in_a_wheel_a_user_is_told_that_the_tool_failed(verify, tmp_path):
    (tmp_path / "prebuilt").mkdir()
    text, _ = slipped(SLIPS["a misspelled field"][0])
    ran = verify(text)
    assert ran.status == 70
    assert ran.err.startswith("orderlint: the tool itself failed")
    assert "demo.yaml" not in ran.err
