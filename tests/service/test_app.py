"""Hooks and their answers, by the specification of CDS Hooks 2.0 (HL7, 2022): requests, cards,
feedback, status codes."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime

import pytest
from bundles import CODES
from signing import AT, BASE, OTHER, ask, order, request, service, sign
from trusted import NOW, bearer, jwk_of, trust_of, trusting

import orderlint
from orderlint.service import checks, pages
from orderlint.service.tokens import TokenGate

REVERSED = {"pause__lower": "22 mmHg", "pause__upper": "2 mmHg"}
FEEDBACK = {
    "card": "b1b3bd4c-5d3c-4a4e-9d35-6a0b36d1b6a9",
    "outcome": "overridden",
    "overrideReason": {
        "reason": {"code": "5", "system": "http://terminology.hl7.org/CodeSystem/v3-ActCode"},
        "userComment": "the patient in room 4, J. Doe",
    },
    "outcomeTimestamp": "2026-03-02T15:11:12.5-06:00",
}


@pytest.fixture
def asked():
    return service()


def fits(card):
    """A card has what the specification requires, and nothing that it forbids or we refuse."""
    required, optional = {"summary", "indicator", "source"}, {"overrideReasons", "links", "detail"}
    assert required <= card.keys() <= required | optional | {"uuid"}
    assert 0 < len(card["summary"]) < 140
    assert card["indicator"] in {"info", "warning", "critical"}
    assert card["source"]["label"]
    assert re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", card["uuid"])
    for link in card["links"]:
        assert link.keys() == {"label", "url", "type"}
        assert link["type"] == "absolute"
    for reason in card.get("overrideReasons", ()):
        assert reason.keys() == {"code", "system", "display"}
        assert all(reason.values())
    return True


def test_discovery_says_which_hooks_are_answered(asked):
    answer = ask(asked, path="/cds-services")
    assert answer.headers["Content-Type"] == "application/json; charset=utf-8"
    assert [(each["id"], each["hook"]) for each in answer.json["services"]] == [
        ("order-sign", "order-sign"),
        ("order-select", "order-select"),
    ]
    assert all(each["description"] and each["title"] for each in answer.json["services"])
    assert not any("prefetch" in each for each in answer.json["services"])


def test_health(asked):
    assert ask(asked, path="/health").json == {"status": "ok"}


@pytest.mark.parametrize("hook", ["order-sign", "order-select"])
def test_an_order_of_ours_has_a_card_and_another_has_none(asked, hook):
    (card,) = sign(asked, order(), hook).cards
    assert fits(card)
    assert (card["summary"][:5], card["indicator"]) == ("CLEAR", "info")
    assert ("still being written" in card["detail"]) == (hook == "order-select")
    assert sign(asked, OTHER, hook).json == {"cards": []}
    assert sign(asked, {"resourceType": "Bundle", "entry": []}, hook).json == {"cards": []}


def test_a_card_has_verdict_sentence_and_question(asked):
    (card,) = sign(asked, order(**REVERSED)).cards
    assert fits(card)
    says = "The lower pause limit, 22 mmHg, is not below the upper pause limit, 2 mmHg."
    assert card["summary"] == f"DO NOT START – CALL: {says}"
    assert card["indicator"] == "critical"
    for text in (says, "Ask the prescriber: What are the lower and the upper pause limit to be?"):
        assert text in card["detail"]
    assert len(card["overrideReasons"]) == 5


def test_the_verdict_is_that_of_verify(asked):
    for whole in (order(), order(**REVERSED), order(treat_above="60 mmHg")):
        sign(asked, whole)
        at = datetime.fromtimestamp(AT // 1000, UTC)
        found = orderlint.verify(json.dumps(whole), name="order.json", at=at)
        kept = asked.records.checked[-1].assessment
        assert kept.verdict == found.verdict
        assert [each.rule for each in kept.findings] == [each.rule for each in found.findings]


@pytest.mark.parametrize(
    ("subject", "is_other"),
    [
        ("Patient/1", False),
        ("Patient/1/_history/2", False),
        ("https://fhir.example/r4/Patient/1", False),
        ("Patient/2", True),
        ("https://fhir.example/r4/Patient/2", True),
    ],
)
def test_an_order_for_another_patient_than_the_record_is_of(asked, subject, is_other):
    """`context.patientId` is the id of the patient whose record is open."""
    whole = order()
    for entry in whole["entry"]:
        if "subject" in entry["resource"]:
            entry["resource"]["subject"] = {"reference": subject}
    (card,) = sign(asked, whole).cards
    assert card["summary"].startswith("DO NOT START – CALL: Two patients") == is_other
    page = ask(asked, path="/findings/" + card["links"][0]["url"].rpartition("/")[2])
    assert (b"Two patients are named" in page.body) == is_other


def test_several_orders_have_a_card_each_and_one_is_told_from_the_other(asked):
    whole, second = order(), order(**REVERSED)
    for entry in second["entry"]:
        entry["fullUrl"] += "0"
        resource = entry["resource"]
        resource["id"] = "20"
        if "groupIdentifier" in resource:
            resource["groupIdentifier"] = {"value": "demo-2"}
        if "medicationReference" in resource:
            resource["medicationReference"] = {"reference": "Medication/20"}
    whole["entry"] += [*OTHER["entry"], *second["entry"]]
    cards = sign(asked, whole).cards
    assert all(map(fits, cards))
    assert [card["summary"].partition(" – ")[0].partition(":")[0] for card in cards] == [
        "Order 1 of 2",
        "Order 2 of 2",
    ]
    assert [card["indicator"] for card in cards] == ["info", "critical"]
    assert len({card["uuid"] for card in cards} | {card["links"][0]["url"] for card in cards}) == 4
    shown = [ask(asked, path=card["links"][0]["url"].removeprefix(BASE)).body for card in cards]
    assert [b"DO NOT START" in page for page in shown] == [False, True]


UNREADABLE = {
    "a character that does not show": lambda text: text.replace("tragus", "tra\\u200bgus"),
    "two equal keys at the top": lambda text: (
        text[:-1] + ', "context": ' + json.dumps(request(OTHER)["context"]) + "}"
    ),
    "two equal keys": lambda text: text.replace('"parameter":', '"status": "draft", "parameter":'),
    "a number without end": lambda text: text.replace('"value": 22', f'"value": {"9" * 50}'),
    "deeper than a document": lambda text: text.replace(
        '"parameter":', f'"x": {"[" * 50}{"]" * 50}, "parameter":'
    ),
    "a Bundle of a type that is not read": lambda text: text.replace("collection", "history"),
    "entered in error": lambda text: text.replace(
        '"status": "draft"', '"status": "entered-in-error"'
    ),
}


@pytest.mark.parametrize("case", UNREADABLE)
def test_an_order_of_ours_that_is_refused_has_a_card_that_says_so(asked, case):
    text = UNREADABLE[case](json.dumps(request(order())))
    assert text != json.dumps(request(order()))
    (card,) = ask(asked, "POST", "/cds-services/order-sign", text.encode()).cards
    assert fits(card)
    assert card["summary"].startswith("NOT CHECKED: ")
    assert card["indicator"] == "warning"
    page = ask(asked, path=card["links"][0]["url"].removeprefix(BASE))
    assert (page.status, b"NOT CHECKED" in page.body) == (200, True)
    (checked,) = asked.records.checked
    assert (checked.assessment, checked.fault) == (None, None)


def test_a_system_that_is_written_in_another_way_is_ours_all_the_same(asked):
    text = UNREADABLE["a character that does not show"](json.dumps(request(order())))
    for written in (CODES.replace("/", "\\/"), CODES.replace("h", "\\u0068")):
        body = text.replace(CODES, written).encode()
        assert CODES.encode() not in body
        (card,) = ask(asked, "POST", "/cds-services/order-sign", body).cards
        assert card["summary"].startswith("NOT CHECKED")


def _spoiled(steps, value):
    whole = order()
    *above, last = steps
    held = whole
    for step in above:
        held = held[step]
    held[last] = value
    return whole


@pytest.mark.parametrize(
    ("steps", "value"),
    [
        *((("entry", 0, "resource", "resourceType"), kind) for kind in ("Task", None, "", {})),
        (("entry", 0, "resource"), [order()["entry"][0]["resource"]]),
        (("entry",), {"resource": order()["entry"][0]["resource"]}),
        (("entry", 0), {"resourse": order()["entry"][0]["resource"]}),
    ],
)
def test_settings_of_ours_in_what_is_no_order_have_a_card_too(asked, steps, value):
    (card,) = sign(asked, _spoiled(steps, value)).cards
    assert card["summary"].startswith("NOT CHECKED: Settings of ours stand here")
    other = order(**REVERSED)
    other["entry"].append({"resource": {**other["entry"][0]["resource"], "resourceType": "Task"}})
    cards = sign(asked, other).cards
    assert ["NOT CHECKED" in card["summary"] for card in cards] == [False, True]


def test_of_too_many_orders_none_is_checked(asked, monkeypatch):
    monkeypatch.setattr(checks, "MOST_ORDERS", 1)
    whole = order()
    second = json.loads(json.dumps(whole["entry"][0]))
    second["resource"].update(id="2", groupIdentifier={"value": "demo-2"})
    (card,) = sign(asked, {**whole, "entry": [*whole["entry"], second]}).cards
    assert card["summary"].startswith("NOT CHECKED: The request holds more than")


def test_what_cannot_be_read_and_is_not_ours_has_no_card(asked):
    text = json.dumps(request(OTHER)).replace("paracetamol", "para\\u200bcetamol")
    answer = ask(asked, "POST", "/cds-services/order-sign", text.encode())
    assert (answer.status, answer.cards) == (200, [])


def test_a_fault_of_the_tool_is_a_card_and_no_answer_of_all_clear(asked, monkeypatch):
    def fail(*_):
        raise ZeroDivisionError("22 mmHg")

    monkeypatch.setattr("orderlint.service.checks.verify_bundle", fail)
    (card,) = sign(asked, order()).cards
    assert card["summary"].startswith("NOT CHECKED: The tool itself failed")
    assert "22 mmHg" not in json.dumps(card)
    assert isinstance(asked.records.checked[0].fault, ZeroDivisionError)
    monkeypatch.setattr("orderlint.service.checks.orders_in", fail)
    assert len(sign(asked, order()).cards) == 1
    monkeypatch.setattr("orderlint.service.app.read_hook", fail)
    answer = sign(asked, order())
    assert (answer.status, answer.body) == (500, b"")
    assert [type(each) for each in asked.records.faults] == [ZeroDivisionError]


def without(name):
    said = request(order(), "order-select")
    held = said["context"] if name in said["context"] else said
    del held[name]
    return said


BAD = {
    "nothing": b"",
    "no JSON": b"{",
    "no object": [],
    "100,000 brackets": b"[" * 100_000,
    "100,000 keys deep": b'{"a":' * 100_000,
    "not UTF-8": b"\xff\xfe{\x00}\x00",
    "another hook": request(order(), "order-sign"),
    "a Bundle that is none": request({"resourceType": "Patient"}, "order-select"),
    "a Bundle that is a text": request("Bundle", "order-select"),
    "an instance that is a number": request(order(), "order-select", hookInstance=7),
    **{
        f"without {name}": without(name)
        for name in (
            *("hook", "hookInstance", "context"),
            *("userId", "patientId", "selections", "draftOrders"),
        )
    },
}


@pytest.mark.parametrize("case", BAD)
def test_what_is_no_request_of_the_hook(asked, case):
    answer = ask(asked, "POST", "/cds-services/order-select", BAD[case])
    assert (answer.status, answer.body) == (400, b"")


def test_what_else_is_in_a_request_is_not_used(asked):
    more = {"fhirServer": "https://fhir.example", "fhirAuthorization": {"access_token": "secret"}}
    said = request(order(), prefetch={"patient": {"resourceType": "Patient"}}, **more)
    answer = ask(asked, "POST", "/cds-services/order-sign", said)
    assert len(answer.cards) == 1
    assert b"secret" not in answer.body


def test_what_there_is_not(asked):
    for method, path, status in (
        ("GET", "/", 404),
        ("GET", "/cds-services/", 404),
        ("POST", "/cds-services/patient-view", 404),
        ("POST", "/cds-services//feedback", 404),
        ("GET", "/findings/", 404),
        ("GET", "/findings/none", 404),
        ("GET", "/cds-services/order-sign", 405),
        ("POST", "/cds-services", 405),
        ("HEAD", "/health", 405),
        ("PUT", "/cds-services/order-sign", 405),
    ):
        answer = ask(asked, method, path)
        assert (answer.status, answer.body) == (status, b""), path
        assert ("Allow" in answer.headers) == (status == 405)


@pytest.mark.parametrize(
    "kind",
    [
        *("", "text/plain", "application/fhir+json", "application/x-www-form-urlencoded"),
        *("application/json; charset=latin-1", "application/json; version=2"),
    ],
)
def test_only_json_is_read(asked, kind):
    assert sign(asked, order(), kind=kind).status == 415


def test_json_is_called_so_in_several_ways(asked):
    for kind in ("application/json;charset=UTF-8", 'Application/JSON; charset="utf-8"'):
        assert sign(asked, order(), kind=kind).status == 200
    assert sign(asked, order(), content_encoding="gzip").status == 415


def test_feedback_is_kept_by_ids_alone(asked):
    others = [
        {**FEEDBACK, "outcome": "accepted", "acceptedSuggestions": [], "overrideReason": None},
        {**FEEDBACK, "overrideReason": {"reason": {"code": "5", "system": "urn:other"}}},
        {**FEEDBACK, "overrideReason": {"reason": {"code": "J. Doe", "system": "x"}}},
        {**FEEDBACK, "card": FEEDBACK["card"].upper(), "overrideReason": {"userComment": "Doe"}},
    ]
    path, said = "/cds-services/order-sign/feedback", {"feedback": [FEEDBACK, *others]}
    assert ask(asked, "POST", path, said).status == 200
    kept = asked.records.said
    assert [(hook, *each[:3]) for hook, each in kept] == [
        ("order-sign", FEEDBACK["card"], outcome, reason)
        for outcome, reason in (
            ("overridden", "5"),
            ("accepted", None),
            *[("overridden", None)] * 3,
        )
    ]
    assert kept[0][1].at == datetime(2026, 3, 2, 21, 11, 12, tzinfo=UTC)
    assert "Doe" not in repr(kept)
    asked.records.can_keep = False
    assert ask(asked, "POST", path, said).status == 503


@pytest.mark.parametrize(
    "said",
    [
        *({}, [], {"feedback": []}, {"feedback": {}}, {"feedback": ["card"]}),
        *({"feedback": [FEEDBACK] * 101}, {"feedback": [{**FEEDBACK, "outcome": "ignored"}]}),
        {"feedback": [{**FEEDBACK, "card": "J. Doe"}]},
        {"feedback": [{**FEEDBACK, "overrideReason": "because"}]},
        {"feedback": [{**FEEDBACK, "overrideReason": {"reason": "5"}}]},
        {"feedback": [{**FEEDBACK, "outcomeTimestamp": "2026-03-02"}]},
        {"feedback": [{**FEEDBACK, "outcomeTimestamp": "0001-01-01T00:00:00+14:00"}]},
        {"feedback": [{**FEEDBACK, "outcomeTimestamp": None}]},
        b"[" * 100_000,
    ],
)
def test_what_is_no_feedback(asked, said):
    assert ask(asked, "POST", "/cds-services/order-sign/feedback", said).status == 400
    assert asked.records.said == []


def test_a_page_is_private_and_ends():
    now = [0.0]
    asked = service(clock=lambda: now[0])
    (card,) = sign(asked, order(**REVERSED)).cards
    path = card["links"][0]["url"].removeprefix(BASE)
    page = ask(asked, path=path, sec_fetch_site="cross-site")
    assert page.headers["Cache-Control"] == "no-store"
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"
    policy = page.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert b"is not below the upper pause limit" in page.body
    now[0] = pages.LONGEST_KEPT
    assert ask(asked, path=path).status == 404


def test_without_trust_only_this_machine_is_answered_and_no_web_page(asked):
    for host in ("evil.example:8471", "127.0.0.1", "127.0.0.1:80", ""):
        assert sign(asked, order(), host=host).status == 421
    for headers in (
        {"origin": "https://ehr.example"},
        {"origin": "null"},
        {"origin": BASE},
        {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"},
    ):
        answer = sign(asked, order(), **headers)
        assert (answer.status, answer.body) == (403, b"")
        assert not any(name.startswith("Access-Control") for name in answer.headers)
        assert ask(asked, "OPTIONS", "/cds-services", **headers).status != 204
    for host in ("localhost:8471", "[::1]:8471"):
        assert sign(asked, order(), host=host).status == 200


def test_a_page_that_is_trusted_is_answered_and_no_other(curve_key):
    trust = trust_of(trusting(jwk_of(curve_key, kid="k1"), origins=["https://ehr.example"]))
    asked = service(TokenGate(trust, lambda: NOW), trust.origins)
    path, origin = "/cds-services/order-sign", "https://ehr.example"
    told = ask(asked, "OPTIONS", path, origin=origin, access_control_request_method="POST")
    assert (told.status, told.headers["Access-Control-Allow-Origin"]) == (204, origin)
    assert told.headers["Access-Control-Allow-Headers"] == "Authorization, Content-Type"
    assert "Access-Control-Allow-Credentials" not in told.headers
    token = bearer(curve_key, aud=f"{BASE}{path}")
    answer = sign(asked, order(), origin=origin, authorization=token, sec_fetch_site="cross-site")
    assert (answer.status, answer.headers["Access-Control-Allow-Origin"]) == (200, origin)
    assert answer.headers["Vary"] == "Origin"
    for other in ("https://evil.example", "null", "https://ehr.example.evil.example"):
        assert ask(asked, "OPTIONS", path, origin=other).status == 403


def test_with_trust_hooks_and_feedback_need_a_token_each(curve_key):
    trust = trust_of(trusting(jwk_of(curve_key, kid="k1")))
    asked = service(TokenGate(trust, lambda: NOW), trust.origins)
    paths = [f"/cds-services/{hook}" for hook in ("order-sign", "order-select")]
    for path in (*paths, f"{paths[0]}/feedback"):
        for header in ("", "Bearer", bearer(curve_key)):
            answer = ask(asked, "POST", path, request(order()), authorization=header)
            assert (answer.status, answer.body) == (401, b"")
            assert answer.headers["WWW-Authenticate"] == "Bearer"
        token = bearer(curve_key, aud=f"{BASE}{path}", jti=path)
        assert ask(asked, "POST", path, b"{}", authorization=token).status == 400
        assert ask(asked, "POST", path, b"{}", authorization=token).status == 401
    for path in ("/cds-services", "/health"):
        assert ask(asked, path=path, host="any.example").status == 200
    assert "Bearer" not in "".join(asked.records.lines)


def test_a_line_on_a_request_has_nothing_of_it(asked):
    (card,) = sign(asked, order()).cards
    page = card["links"][0]["url"].removeprefix(f"{BASE}/findings/")
    ask(asked, path=f"/findings/{page}")
    ask(asked, "DELETE", "/J.Doe")
    assert [line.rsplit(" ", 2)[0] for line in asked.records.lines] == [
        "order-sign 200",
        "findings 200",
        "nothing 404",
    ]
