from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from report.hand_made import CROSSED, INACTIVE, MISSING, SETTINGS, SPELLING, UNCHECKED, made

from orderlint.fields import load_schema
from orderlint.finding import Place, Refused
from orderlint.report.order.json import render
from orderlint.report.unchecked_files import Unread, refused_file
from orderlint.report.words import instant_words

SCHEMA = load_schema("findings")
OPTIONAL = {"standing_orders", "element"}
"""Members that some reports alone have: under such a policy, of such a file."""
FINDINGS = Draft202012Validator(SCHEMA)
FULL = made((CROSSED, *MISSING, SPELLING), UNCHECKED, INACTIVE)
AT = 1_772_482_200_000
REFUSED = (
    refused_file("a.yaml", Refused("There is no such file.", "a.yaml")),
    refused_file("b.yaml", Refused("Twice.", Place("b.yaml", 3, 1), Place("b.yaml", 2, 1))),
)
FAULT = Unread("c.yaml", "failed", is_fault=True)


def exact(text):
    """Parsed as JSON, with every number that is not whole refused."""

    def refuse(number):
        raise AssertionError(f"{number} is not whole")

    return json.loads(text, parse_float=refuse, parse_constant=refuse)


def report(*verified, unread=()):
    data = exact(render(verified, unread, AT))
    assert [error.message for error in FINDINGS.iter_errors(data)] == []
    return data


def test_the_schema_is_strict_and_worded():
    Draft202012Validator.check_schema(SCHEMA)
    nodes = [SCHEMA, *SCHEMA["$defs"].values()]
    for node in nodes:
        nodes.extend(child for child in node.get("properties", {}).values())
        assert "$ref" in node or node["title"]
        assert "$ref" in node or node["description"].endswith(".")
        if "properties" in node:
            assert node["additionalProperties"] is False
            required = [key for key in node["properties"] if key not in OPTIONAL]
            assert node["required"] == required


@pytest.mark.parametrize(
    "verified",
    [
        FULL,
        made(),
        made(settings="document: order\nformat: 1\n"),
        made(settings=SETTINGS, outflow=None),
        made(settings=SETTINGS.replace("therapy: irrigation", "therapy: monitoring")),
    ],
)
def test_every_report_is_as_the_schema_says(verified):
    report(verified, unread=(*REFUSED, FAULT))


def test_a_finding_has_all_its_parts():
    document = report(FULL)["documents"][0]
    assert document["verdict"] == "do-not-start"
    assert document["findings"][0] == {
        "rule": "drain-above-treat-above",
        "level": "do-not-start",
        "path": "drainage.height",
        "name": "Drain height",
        "says": CROSSED.says,
        "written": "14 mmHg",
        "expected": "a drain at or below the treat-above level",
        "why": "Until then each mL that runs in stays in.",
        "ask": "Which of the two levels was meant?",
        "ask_whom": "prescriber",
        "source": "follows from the order itself",
        "place": {"file": "order.yaml", "line": 10, "column": 20},
        "also": [
            {
                "path": "treat_above",
                "name": "Treat-above level",
                "written": "8 mmHg",
                "place": {"file": "order.yaml", "line": 9, "column": 14},
            }
        ],
    }
    assert [finding["rule"] for finding in document["findings"]] == [
        finding.rule for finding in FULL.assessment.findings
    ]


def test_what_could_not_be_checked_or_was_not_asked_is_there():
    document = report(FULL)["documents"][0]
    assert document["unchecked"][2] == {
        "rule": "rule-c",
        "level": "note",
        "missing": ["patient.group"],
    }
    assert document["inactive"][0] == {
        "rule": "drain-height-outside-scale",
        "reason": "the policy gives no site.drain_scale",
    }
    assert document["checked"] == {
        "schema": "order, format 1",
        "policy": "built-in policy",
        "weaker": [],
        "rules": 61,
        "at": "2026-03-02T20:10:00Z",
    }


def test_pressures_are_exact():
    document = report(made(settings=SETTINGS.replace("upper: 22 mmHg", "upper: 30 cmH2O")))
    last = document["documents"][0]["behaviour"][-1]
    # 30 cmH2O / 1.35951 = 22.0668 mmHg, by the conventional 13.5951 g/mL.
    assert last == {
        "from": {"ticks": 300_000_000, "cmH2O": "30", "mmHg": "about 22.07"},
        "from_included": False,
        "to": None,
        "to_included": False,
        "irrigation": "off",
        "valve": "open",
        "outflow": "possible by gravity",
        "alarm": None,
    }
    first = document["documents"][0]["behaviour"][0]
    assert first["to"] == {"ticks": 27_190_200, "cmH2O": "2.71902", "mmHg": "2"}


def test_a_level_below_the_zero_keeps_its_sign():
    settings = SETTINGS.replace("lower: 2 mmHg", "lower: -0.05 cmH2O")
    to = report(made(settings=settings))["documents"][0]["behaviour"][0]["to"]
    assert (to["ticks"], to["cmH2O"]) == (-500_000, "-0.05")


def test_settings_lacking_for_the_behaviour_are_named():
    document = report(made(settings="document: order\nformat: 1\n"))["documents"][0]
    assert document["behaviour"] == []
    assert document["behaviour_lacking"] == ["therapy", "pause.lower", "pause.upper"]


def test_refused_files_and_faults_are_there():
    data = report(unread=(*REFUSED, FAULT))
    assert data["documents"] == []
    assert data["refused"] == [
        {"file": "a.yaml", "message": "There is no such file.", "place": None, "also": None},
        {
            "file": "b.yaml",
            "message": "Twice.",
            "place": {"file": "b.yaml", "line": 3, "column": 1},
            "also": {"file": "b.yaml", "line": 2, "column": 1},
        },
    ]
    assert data["faults"] == [{"file": "c.yaml", "message": "failed"}]


def test_the_same_input_gives_the_same_text():
    assert render([FULL], REFUSED, AT) == render([FULL], REFUSED, AT)


def test_nothing_hides_in_the_text_and_letters_stay():
    verified = made(file="\x9bor\u202eder\udc80-é.yaml", inactive=INACTIVE)
    text = render([verified], (), AT)
    assert "\\\\u{009B}or\\\\u{202E}der\\\\u{DC80}-é.yaml" in text
    text.encode("utf-8")


def test_what_hides_in_a_text_is_escaped_and_stays_the_same():
    written = "5\u202e\x9b\U000e0041 é"
    text = render([made((CROSSED._replace(written=written),))], (), AT)
    assert "5\\u202e\\u009b\\udb40\\udc41 é" in text
    assert exact(text)["documents"][0]["findings"][0]["written"] == written


@given(st.integers(-(10**14), 10**15))
def test_any_instant_has_words(at):
    words = instant_words(at)
    assert words.endswith("Z")
    assert ("." in words) is bool(at % 1000)


def test_an_instant_in_words():
    # POSIX: seconds since the Epoch 1970-01-01T00:00:00Z; 951782400 is 2000-02-29.
    assert instant_words(0) == "1970-01-01T00:00:00Z"
    assert instant_words(951_782_400_000) == "2000-02-29T00:00:00Z"
    assert instant_words(-1) == "1969-12-31T23:59:59.999Z"
