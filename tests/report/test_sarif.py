"""SARIF against the schema of the standard, and what the standard says beside its schema.

The numbers of sections are those of SARIF 2.1.0; they and what they say are from memory.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from urllib.parse import unquote_to_bytes, urljoin, urlsplit

import pytest
from drawing import most
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft4Validator
from report.hand_made import CROSSED, FILE, SPELLING
from report.said import FILES, HIDDEN, TEXTS, reports

from orderlint.finding import Level, Place, Suppressed, Verdict
from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult
from orderlint.report.ci.sarif import FINGERPRINT, artifact_uri, render
from orderlint.report.unchecked_files import Unread
from orderlint.rulebook.load import load

PUBLISHED = Path(__file__).parents[1] / "schemas/published/sarif-2.1.0-rtm.5.json"
SARIF = Draft4Validator(json.loads(PUBLISHED.read_text(encoding="utf-8")))
# RFC 3986, 4.1 and appendix A: what a URI reference is made of.
REFERENCE = re.compile(r"(?:[A-Za-z0-9._~!$&'()*+,;=:@/?#-]|%[0-9A-Fa-f]{2})*")
RULES = {name: load("all").rules[name] for name in ("drain-above-treat-above", "unit-run-together")}


def read(text):
    data = json.loads(text)
    assert [f"{error.json_path}: {error.message}" for error in SARIF.iter_errors(data)] == []
    (run,) = data["runs"]
    return run


def texts(node):
    """Every text in some JSON."""
    if isinstance(node, str):
        yield node
    for inner in (
        node.values() if isinstance(node, dict) else node if isinstance(node, list) else ()
    ):
        yield from texts(inner)


def of(*results, unread=(), rules=RULES, file=FILE):
    checked = CheckedDocument(
        file, "order", Verdict.CLARIFY, results, ("Look.",), ("Checked by hand.",)
    )
    return CiReport((checked,) if results else (), unread, rules)


FOUND = CiResult(CROSSED, "1" * 32 + ":1")
SPELT = CiResult(SPELLING._replace(rule="unit-run-together"), "2" * 32 + ":1")


@most(60)
@given(reports())
def test_any_report_is_valid_and_hides_nothing(report):
    """By the schema of the standard, and by what it says beside its schema."""
    text = render(report)
    text.encode("utf-8")
    assert not HIDDEN.search(text)
    run = read(text)
    assert not any(map(HIDDEN.search, texts(run)))
    assert len(run["results"]) == sum(len(item.results) for item in report.checked)
    assert len(run["invocations"][0]["toolExecutionNotifications"]) == len(report.unread)
    rules, results = run["tool"]["driver"]["rules"], run["results"]
    for result in results:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]  # 3.27.6
        # 3.27.10: what is not `fail` has the level `none`.
        assert result["kind"] in {"fail", "open"}
        assert (result["kind"] == "open") == (result["level"] == "none")
        (number,) = result["partialFingerprints"]
        assert re.fullmatch(r"\w+/v[1-9]\d*", number)  # 3.27.17 and 3.5.4
    # 3.27.23: all or none; 3.27.24 is read so too.
    for member in ("suppressions", "baselineState"):
        assert len({member in result for result in results}) <= 1
    for location in locations(run):
        # 3.4.4: the index is of the same artifact.
        artifact = run["artifacts"][location["index"]]["location"]
        assert artifact["uri"] == location["uri"]
    assert run["invocations"][0]["executionSuccessful"] is not bool(report.unread)


def locations(node):
    if isinstance(node, dict):
        if "index" in node and "uri" in node:
            yield node
        node = list(node.values())
    for inner in node if isinstance(node, list) else ():
        yield from locations(inner)


@most(200)
@given(st.one_of(FILES, TEXTS))
def test_a_file_name_is_a_reference_that_leads_back_to_it(name):
    uri = artifact_uri(name)
    assert REFERENCE.fullmatch(uri)
    parts = urlsplit(uri)
    assert (parts.scheme, parts.netloc) == ("file" if name.startswith("/") else "", "")
    # RFC 3986, 4.2: a relative reference is no scheme, and joins to the folder it is in.
    joined = urljoin("file:///folder/", uri)
    assert joined.startswith("file:///")
    halves = [c for c in name if "\ud800" <= c <= "\udfff"]
    errors = (
        "surrogateescape" if all("\udc80" <= c <= "\udcff" for c in halves) else "surrogatepass"
    )
    back = Path(unquote_to_bytes(parts.path).decode("utf-8", errors))
    assert back == Path(re.sub("^//", "/", name))


@pytest.mark.parametrize(
    ("name", "here", "uri"),
    [
        ("examples/clean.yaml", "", "examples/clean.yaml"),
        ("./orders/a b.yaml", "", "orders/a%20b.yaml"),
        ("é.yaml", "", "%C3%A9.yaml"),
        ("no\udcff.yaml", "", "no%FF.yaml"),
        ("a:b.yaml", "", "a%3Ab.yaml"),
        ("100%.yaml", "", "100%25.yaml"),
        ("/ward/orders/a.yaml", "", "file:///ward/orders/a.yaml"),
        ("/ward/orders/a.yaml", "/ward", "orders/a.yaml"),
        ("/warden/a.yaml", "/ward", "file:///warden/a.yaml"),
        ("../a.yaml", "/ward", "../a.yaml"),
        ("<stdin>", "/ward", "%3Cstdin%3E"),
    ],
)
def test_a_file_name_as_a_uri(name, here, uri):
    assert artifact_uri(name, here) == uri


def test_a_result_has_all_its_parts():
    (result,) = read(render(of(FOUND)))["results"]
    place = {"artifactLocation": {"uri": "order.yaml", "index": 0}}
    assert result == {
        "ruleId": "drain-above-treat-above",
        "ruleIndex": 0,
        "kind": "fail",
        "level": "error",
        "message": {"text": f"{CROSSED.says} Ask the prescriber: {CROSSED.ask}"},
        "locations": [
            {
                "physicalLocation": {**place, "region": {"startLine": 10, "startColumn": 20}},
                "logicalLocations": [{"fullyQualifiedName": "drainage.height"}],
            }
        ],
        "partialFingerprints": {FINGERPRINT: FOUND.fingerprint},
        "properties": {
            "level": "do-not-start",
            "path": "drainage.height",
            "written": "14 mmHg",
            "expected": "a drain at or below the treat-above level",
            "why": "Until then each mL that runs in stays in.",
            "source": "follows from the order itself",
        },
        "relatedLocations": [
            {
                "id": 1,
                "physicalLocation": {**place, "region": {"startLine": 9, "startColumn": 14}},
                "logicalLocations": [{"fullyQualifiedName": "treat_above"}],
                "message": {"text": "Treat-above level: 8 mmHg"},
            }
        ],
    }


@pytest.mark.parametrize(
    ("level", "word"),
    [(Level.DO_NOT_START, "error"), (Level.CLARIFY, "warning"), (Level.NOTE, "note")],
)
def test_levels_are_those_of_the_standard(level, word):
    (result,) = read(render(of(FOUND._replace(finding=CROSSED._replace(level=level)))))["results"]
    assert result["level"] == word


def test_what_could_not_be_checked_is_open():
    (result,) = read(render(of(FOUND._replace(is_open=True))))["results"]
    assert (result["kind"], result["level"]) == ("open", "none")
    assert result["properties"]["level"] == "do-not-start"


def test_suppressions_are_on_all_results_once_they_are_on_one():
    told = Suppressed(
        SPELT.finding, "Agreed", "the board", "2026-09-30", Place("policy.yaml", 4, 5)
    )
    run = read(render(of(FOUND, SPELT._replace(suppressed=told))))
    assert [result["suppressions"] for result in run["results"]] == [
        [],
        [
            {
                "kind": "external",
                "status": "accepted",
                "justification": "Suppressed by the policy until 2026-09-30: Agreed. Approved by: "
                "the board (policy.yaml:4:5).",
                "location": {
                    "physicalLocation": {
                        "artifactLocation": {"uri": "policy.yaml", "index": 1},
                        "region": {"startLine": 4, "startColumn": 5},
                    }
                },
            }
        ],
    ]
    assert all("suppressions" not in result for result in read(render(of(FOUND, SPELT)))["results"])


def test_a_baseline_marks_each_result():
    run = read(render(of(FOUND._replace(known=True), SPELT._replace(known=False))))
    assert [result["baselineState"] for result in run["results"]] == ["unchanged", "new"]


def test_a_file_not_read_is_a_notification():
    place, also = Place("b.yaml", 3, 1), Place("b.yaml", 2, 1)
    run = read(render(of(unread=(Unread("a", "Gone."), Unread("b.yaml", "Twice.", place, also)))))
    (invocation,) = run["invocations"]
    assert invocation["executionSuccessful"] is False
    first, second = invocation["toolExecutionNotifications"]
    assert first["locations"] == [
        {"physicalLocation": {"artifactLocation": {"uri": "a", "index": 0}}}
    ]
    assert second["level"] == "error"
    assert second["message"]["text"] == "Twice. (the other is at b.yaml:2:1)"
    assert second["locations"][0]["physicalLocation"]["region"] == {
        "startLine": 3,
        "startColumn": 1,
    }
    assert run["results"] == []


def test_standard_input_is_an_artifact_with_a_name():
    run = read(render(of(FOUND, file="<stdin>")))
    assert run["artifacts"][0]["location"] == {
        "uri": "%3Cstdin%3E",
        "description": {"text": "Standard input"},
    }
    assert run["invocations"][0]["stdin"] == {"uri": "%3Cstdin%3E", "index": 0}
    assert "stdin" not in read(render(of(FOUND)))["invocations"][0]


def test_a_message_has_no_placeholder_and_no_link_of_its_own():
    # 3.11.5: braces are doubled; 3.11.6: brackets that would be a link are escaped.
    sly = CROSSED._replace(says="{0} [fine](https://x.example) [1]", ask="")
    (result,) = read(render(of(FOUND._replace(finding=sly))))["results"]
    assert result["message"]["text"] == r"{{0}} \[fine\](https://x.example) \[1\]"
    plain = CROSSED._replace(says="[1] is quoted", ask="")
    (result,) = read(render(of(FOUND._replace(finding=plain))))["results"]
    assert result["message"]["text"] == "[1] is quoted"


def test_columns_count_characters():
    assert read(render(of(FOUND)))["columnKind"] == "unicodeCodePoints"


def test_the_rules_are_told_with_their_reason_and_source():
    run = read(render(of(FOUND, rules=load("all").rules)))
    rules = {rule["id"]: rule for rule in run["tool"]["driver"]["rules"]}
    assert rules.keys() == load("all").rules.keys()
    rule, told = load("all").rules["drain-above-treat-above"], rules["drain-above-treat-above"]
    assert told["fullDescription"]["text"] == rule.why
    assert told["defaultConfiguration"] == {"level": "error", "enabled": True}
    assert told["properties"]["source"] == "follows from the order itself"
    assert "{" not in told["shortDescription"]["text"] + told["help"]["text"]
    left_out = rules["drain-height-outside-scale"]
    assert left_out["defaultConfiguration"]["enabled"] is False
    assert left_out["properties"]["notAsked"] == ["the policy gives no range of the drain's scale"]


def test_the_caution_and_what_was_checked_are_there():
    run = read(render(of(FOUND)))
    assert "decision support" in run["tool"]["driver"]["fullDescription"]["text"]
    assert run["artifacts"][0]["description"]["text"] == "Look. Checked by hand."
