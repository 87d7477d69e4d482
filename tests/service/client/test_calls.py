"""Calls as clients make them: each answer is valid, and each order of ours has its card."""

from __future__ import annotations

import json
from collections import Counter
from html.parser import HTMLParser
from random import Random
from urllib.parse import urlsplit

import pytest
from markdown_it import MarkdownIt
from running import run
from service.client.checker import faults_of_cards, faults_of_discovery, faults_of_feedback
from service.client.hooks import HOOKS, call, drawn_call, feedback
from service.client.orders import (
    EXAMPLES,
    NAMED,
    OTHERS,
    coding,
    device_request,
    examples,
    other,
    other_medication,
    ours,
    service_request,
)
from service.client.running_service import as_json
from service.client.wire import Connection, request

SEED = 20260302


def cards_of(answer):
    assert faults_of_cards(answer) == []
    return answer.json["cards"]


def test_discovery_names_a_service_for_each_hook(service):
    answer = service.discover()
    assert faults_of_discovery(answer) == []
    assert {one["hook"] for one in answer.json["services"]} == set(HOOKS)
    by_library = service.discover(accept="application/json", user_agent="x/1 (y)")
    assert by_library.body == answer.body


def _drawn_calls(service, count):
    """So many calls by turns over a kept connection, a new one, and http.client."""
    draw, hooks = Random(SEED), Counter()
    with Connection(service.address) as kept:
        for number in range(count):
            made, own = drawn_call(draw)
            cards = cards_of(_by_turns(number, service, kept, made))
            assert len(cards) == own, made
            hooks[made["hook"]] += 1
            _told(draw, service, made["hook"], cards)
    assert set(hooks) == set(HOOKS)


def _by_turns(number, service, kept, made):
    if number % 3 == 1:
        return service.call_by_library(made)
    if number % 3 == 2:
        return service.call(made)
    kept.send(request("POST", service.path_of(made["hook"]), service.host, as_json(made)))
    return kept.answer()


def _told(draw, service, hook, cards):
    """Feedback on the cards, which is taken."""
    told = []
    for card in cards:
        reason = draw.choice([None, *card.get("overrideReasons", [])])
        comment = draw.choice((None, "Spoken to the prescriber", "é\n\u2028" * 9))
        told.append(
            feedback(card["uuid"], draw.choice(("accepted", "overridden")), reason, comment)
        )
    if told:
        assert faults_of_feedback(service.feed_back(hook, *told)) == []


def test_mixed_calls_have_valid_answers(service):
    _drawn_calls(service, 15)


@pytest.mark.deep
def test_five_hundred_mixed_calls_have_valid_answers(service):
    _drawn_calls(service, 500)


def _one_at_a_time(service, count):
    """So many orders, half of them ours: a card for each of ours, and for no other."""
    draw = Random(SEED + 1)
    for number in range(count):
        made = (ours, other)[number % 2](draw, str(number))
        cards = cards_of(service.call(call(draw.choice(HOOKS), made)))
        assert len(cards) == 1 - number % 2, made


def test_an_order_of_ours_has_a_card_and_no_other_has(service):
    _one_at_a_time(service, 10)
    draw = Random(SEED)
    several = [kind(draw, str(number)) for number, kind in enumerate(OTHERS)]
    assert cards_of(service.call(call("order-sign", *several))) == []
    own = device_request(examples()[0])
    assert len(cards_of(service.call(call("order-sign", *several, own)))) == 1


@pytest.mark.deep
def test_of_a_thousand_orders_ours_have_a_card_and_no_other_has(service):
    _one_at_a_time(service, 1000)


BARE = device_request({})
ODD = {
    "no setting": BARE,
    "no identifier": {name: BARE[name] for name in BARE if name != "groupIdentifier"},
    "no subject": {name: BARE[name] for name in BARE if name != "subject"},
    "entered in error": {**BARE, "status": "entered-in-error"},
    "a proposal": {**BARE, "intent": "proposal"},
    "not to be done": {**service_request({}), "doNotPerform": True},
    "an unknown modifier": {**BARE, "modifierExtension": [{"url": "https://x.example/y"}]},
    "one code of several": {
        **BARE,
        "codeCodeableConcept": {
            "coding": [*coding("1", "http://snomed.info/sct")["coding"], *coding("order")["coding"]]
        },
    },
    "a setting under another's code": {**BARE, "parameter": [{"code": coding("no.such.setting")}]},
    "no parameter": {**BARE, "parameter": None},
    "a parameter that is none": {**BARE, "parameter": ["22 mmHg"]},
}


def test_an_odd_order_of_ours_has_a_card_that_calls_nothing_clear(service):
    for name, order in ODD.items():
        (card,) = cards_of(service.call(call("order-sign", order)))
        assert "CLEAR" not in card["summary"], name
        assert card["indicator"] != "info", name


INDICATORS = {
    "do-not-start": ("DO NOT START", "critical"),
    "clarify": ("CLARIFY", "warning"),
    "incomplete": ("INCOMPLETE", "warning"),
    "note": ("NOTE", "info"),
    "clear": ("CLEAR", "info"),
}


@pytest.mark.parametrize("home", [device_request, service_request])
def test_a_card_says_what_verify_says_of_the_order(home, service):
    files = [EXAMPLES / f"{name}.yaml" for name in NAMED]
    documents = json.loads(run("verify", "--format", "json", *files).out)["documents"]
    verdicts = [one["verdict"] for one in documents]
    assert len(set(verdicts)) > 1
    for order, verdict in zip(examples(), verdicts, strict=True):
        (card,) = cards_of(service.call(call("order-sign", home(order))))
        words, indicator = INDICATORS[verdict]
        assert words in card["summary"], (verdict, card)
        assert card["indicator"] == indicator


def test_the_orders_of_others_do_not_change_the_verdict_on_ours(service):
    draw = Random(SEED)
    for order in (examples()[0], {"id": "nothing-but-this"}):
        own = device_request(order)
        (alone,) = cards_of(service.call(call("order-sign", own)))
        others = [kind(draw, str(number)) for number, kind in enumerate(OTHERS)]
        for orders in ((own, *others), (*others, own), (*others[:4], own, *others[4:])):
            (card,) = cards_of(service.call(call("order-sign", *orders)))
            assert card["summary"] == alone["summary"], orders


def test_no_order_of_ours_hides_among_others(service):
    draw = Random(SEED)
    orders = [other_medication(draw, str(number)) for number in range(60)]
    orders[31] = device_request(examples()[0])
    for hook in HOOKS:
        assert len(cards_of(service.call(call(hook, *orders)))) == 1


HOSTILE_TEXTS = (
    "[press here](http://evil.example)",
    "![x](http://evil.example/x.png)",
    "<img src=http://evil.example/x><script>alert(1)</script>",
    "<http://evil.example>",
    "**CLEAR**\n\n# CLEAR\n\n```\nx",
    "http://evil.example is clear",
    "\u202eRAELC\u202c \u0000 \u0007",
    "x" * 5000,
)
SAFE = {"inline", "text", "softbreak", "hardbreak", "em_open", "em_close", "strong_open"}
SAFE |= {"strong_close", "code_inline"}


def test_a_text_of_the_order_is_never_markup_of_the_card(service):
    for text in HOSTILE_TEXTS:
        order = {**examples()[0], "prescriber": text, "irrigation.rate": text, "id": text}
        order |= {"instructions": text, "drainage.landmark": text}
        (card,) = cards_of(service.call(call("order-sign", device_request(order))))
        blocks = MarkdownIt("gfm-like", {"linkify": False}).parse(card.get("detail", ""))
        inside = [one for block in blocks for one in block.children or []]
        assert {one.type for one in inside} <= SAFE, (text, card)
        assert not {"html_block", "fence", "code_block"} & {one.type for one in blocks}, text


def test_a_card_is_short_however_much_an_order_holds(service):
    own = device_request(examples()[0])
    part = {"resourceType": "MedicationRequest", "groupIdentifier": own["groupIdentifier"]}
    for orders in (
        [{**own, "note": [{"text": f"drain at {number} mmHg"} for number in range(200)]}],
        [{**own, "note": [{"text": "drain at 3 mmHg if not 4 " * 700}]}],
        [{**own, "extension": [{"url": f"https://x.example/{n}"} for n in range(200)]}],
        [own, *({**part, "id": str(number)} for number in range(50))],
    ):
        answer = service.call(call("order-sign", *orders))
        (card,) = cards_of(answer)
        assert "CLEAR" not in card["summary"]
        assert len(answer.body) < 8000, (card["summary"], len(answer.body))


class Attributes(HTMLParser):
    """The names of the elements of a page, and the values of their attributes."""

    def __init__(self, page):
        super().__init__()
        self.names, self.values = set(), []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.names.add(tag)
        self.values += [value for _, value in attrs if value]


def test_a_text_of_the_order_is_never_markup_of_the_page(service):
    texts = (
        "<script>evil()</script>",
        "\"'><img src=//evil.example>",
        "</style><b onclick=evil()>",
    )
    for text in texts:
        order = {**examples()[0], "prescriber": text, "irrigation.rate": text, "id": text}
        (card,) = cards_of(service.call(call("order-sign", device_request(order))))
        path = urlsplit(card["links"][0]["url"]).path
        page = service.ask(request("GET", path, service.host), "GET").body.decode()
        seen = Attributes(page)
        assert not seen.names & {"script", "img", "iframe", "object", "form", "base"}
        assert not [value for value in seen.values if "evil" in value.replace(text, "")]


def test_the_link_of_a_card_shows_the_findings_and_cannot_be_guessed(service):
    order = {**examples()[0], "treat_above": "30 mmHg"}
    links = []
    for _ in range(2):
        (card,) = cards_of(service.call(call("order-sign", device_request(order))))
        links += [link for link in card["links"] if link["type"] == "absolute"]
    first, second = (urlsplit(link["url"]) for link in links)
    assert first.netloc == service.host
    assert first.path != second.path
    page = service.ask(request("GET", first.path, service.host), "GET")
    assert page.status == 200
    assert page.fields["content-type"].startswith("text/html")
    assert page.fields["cache-control"] == "no-store"
    assert "default-src 'none'" in page.fields["content-security-policy"]
    assert "30 mmHg" in page.body.decode()
    assert page.fields["x-content-type-options"] == "nosniff"
    for path in (first.path[:-1], f"{first.path}0", first.path.rsplit("/", 1)[0] + "/"):
        assert service.ask(request("GET", path, service.host), "GET").status == 404


def test_feedback_with_faults_is_refused_or_taken_and_breaks_nothing(service):
    (card,) = cards_of(service.call(call("order-sign", BARE)))
    right = feedback(card["uuid"], "overridden", card["overrideReasons"][0], "because")
    wrong = [
        {"feedback": None},
        {"feedback": {}},
        {"feedback": [None]},
        {"feedback": [{**right, "card": 1}]},
        {"feedback": [{**right, "outcome": "ignored"}]},
        {"feedback": [{**right, "overrideReason": "because"}]},
        {"feedback": [{**right, "outcomeTimestamp": "yesterday"}]},
        [],
        None,
    ]
    path = service.path_of("order-sign", "/feedback")
    for body in wrong:
        assert service.post(path, as_json(body)).status == 400, body
    unknown = feedback("6b0a3c36-5a3e-4d4b-8f0d-0123456789ab", "overridden", None, "c" * 9000)
    assert service.feed_back("order-sign", unknown).status in {200, 400, 404}
    assert faults_of_feedback(service.feed_back("order-sign", right, right)) == []
