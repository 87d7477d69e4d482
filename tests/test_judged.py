"""Each order in judged/ is judged as a practitioner would, unless it is marked as not yet met."""

from __future__ import annotations

from pathlib import Path

import core_yaml
import pytest
from clocks import soon_after_written
from each_case import of_each

import orderlint
from orderlint import Level

FOLDER = Path(__file__).parent / "judged"
EXAMPLES = FOLDER.parents[1] / "examples"
EXPECTED = core_yaml.load_file(FOLDER / "expected.yaml")
CASES = [(kind, name) for kind, orders in EXPECTED.items() for name in orders]
KEYS = {
    "good": {"verdict", "question_about", "policy", "why", "today", "met"},
    "bad": {"verdict", "leads_with", "words", "policy", "why", "today", "met"},
}
VERDICTS = {
    "good": {"clear", "note", "clarify"},
    "bad": {"clarify", "do-not-start"},
}


def _verdicts(expected):
    wanted = expected["verdict"]
    return wanted if isinstance(wanted, list) else [wanted]


def _within(path, parts):
    return any(path == part or path.startswith(f"{part}.") for part in parts)


def _asks_what_it_should(found, expected):
    """Each question concerns a setting that it should, and there are no more of them."""
    wanted = expected.get("question_about", [])
    asked = [finding.path for finding in found.findings if finding.level is not Level.NOTE]
    return len(asked) == len(wanted) and all(_within(path, wanted) for path in asked)


def _leads_as_it_should(found, expected):
    """The first finding concerns what is wrong, and says so."""
    if not found.findings:
        return False
    first = found.findings[0]
    said = " ".join((first.says, first.expected, first.why, first.ask)).lower()
    return _within(first.path, expected["leads_with"]) and all(
        word in said for word in expected["words"]
    )


MEETS = {"good": _asks_what_it_should, "bad": _leads_as_it_should}


@pytest.mark.parametrize(("kind", "name"), CASES)
def test_an_order_is_judged_as_a_practitioner_would(kind, name):
    expected = EXPECTED[kind][name]
    policy = EXAMPLES / expected["policy"] if "policy" in expected else None
    order = FOLDER / kind / f"{name}.yaml"
    found = orderlint.verify(order, at=soon_after_written(order), policy=policy)
    met = found.verdict.value in _verdicts(expected) and MEETS[kind](found, expected)
    leading = found.findings[0] if found.findings else None
    assert met is expected.get("met", True), (found.verdict, leading)


@pytest.mark.parametrize("kind", EXPECTED)
def test_every_order_has_its_expectation(kind):
    assert {path.stem for path in (FOLDER / kind).iterdir()} == set(EXPECTED[kind])


@of_each(("kind", "name"), CASES)
def test_an_expectation_is_whole(kind, name):
    expected = EXPECTED[kind][name]
    assert set(expected) <= KEYS[kind]
    assert set(_verdicts(expected)) <= VERDICTS[kind]
    assert expected["why"]
    assert expected.get("met") in {None, False}
    if kind == "bad":
        assert expected["leads_with"]
        assert expected["words"]
        assert all(word == word.lower() for word in expected["words"])


def test_the_collection_is_large_enough():
    assert len(EXPECTED["good"]) >= 20
    assert len(EXPECTED["bad"]) >= 30


@of_each(("kind", "name"), CASES)
def test_an_order_says_that_it_is_invented(kind, name):
    text = (FOLDER / kind / f"{name}.yaml").read_text(encoding="utf-8")
    assert text.startswith("# An invented order")
