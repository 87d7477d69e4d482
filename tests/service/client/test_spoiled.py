"""Calls spoiled at any place, and bytes at any place: refused or answered, and no order lost."""

from __future__ import annotations

import copy
import json
import threading
from random import Random

import pytest
from service.client.checker import faults_of_cards
from service.client.hooks import call
from service.client.hostile import GOOD, REFUSED, TEXT, sent
from service.client.orders import CODES, device_request, examples
from service.client.running_service import as_json
from service.client.wire import Connection, NotHttpError, request

pytestmark = pytest.mark.usefixtures("lives_on")

VALUES = {"value", "valueQuantity", "valueCodeableConcept"}
CHOSEN = call("order-select", device_request(examples()[0]))
JUNK = (None, True, -1.5, "", "x", [], {"x": [1]}, [[]] * 3, "\u202e\u0000", "1" * 3000)


def _places(node, above=()):
    """The path of each node below one."""
    pairs = node.items() if isinstance(node, dict) else enumerate(node)
    for key, value in pairs:
        yield (*above, key)
        if isinstance(value, (dict, list)):
            yield from _places(value, (*above, key))


def _changed(place, value):
    made = copy.deepcopy(CHOSEN)
    at = made
    for step in place[:-1]:
        at = at[step]
    at[place[-1]] = value
    return made


def _each_spoiled_call_is_refused_or_answered(service, most):
    """No order of ours is lost by it, and no value that is spoiled is called clear."""
    draw, wrong = Random(3), []
    spoiled = [(place, value) for place in _places(CHOSEN) for value in JUNK]
    with Connection(service.address) as connection:
        for place, value in draw.sample(spoiled, min(most, len(spoiled))):
            made = _changed(place, value)
            data = request("POST", service.path_of("order-select"), service.host, as_json(made))
            connection.send(data)
            fault = _fault(made, _is_setting(place, value), connection.answer())
            if fault:
                wrong.append((place, value, fault))
    assert wrong == []


def _is_setting(place, value):
    """Whether what is spoiled is what a setting says, and no number of it is left."""
    numeric = isinstance(value, (int, float)) and not isinstance(value, bool)
    return "parameter" in place and place[-1] in VALUES and not numeric


def _fault(made, spoiled, answer):
    """What is wrong with the answer to a call in which a setting may be spoiled."""
    if answer.status in REFUSED:
        return None
    faults = faults_of_cards(answer)
    if faults:
        return faults
    cards = answer.json["cards"]
    if not cards and CODES in json.dumps(made["context"]["draftOrders"]):
        return "an order with a code of ours has no card"
    if spoiled and any("CLEAR" in card["summary"] for card in cards):
        return "a spoiled value is called clear"
    return None


def test_spoiled_calls_are_refused_or_answered(service):
    _each_spoiled_call_is_refused_or_answered(service, 20)


@pytest.mark.deep
def test_every_spoiled_call_is_refused_or_answered(service):
    _each_spoiled_call_is_refused_or_answered(service, 10**6)


@pytest.mark.deep
def test_noise_of_every_kind_ends_in_no_500(service):
    draw = Random(4)
    whole = request("POST", service.path_of("order-sign"), service.host, TEXT)
    for _ in range(2000):
        data = bytearray(whole)
        for _ in range(draw.choice((1, 2, 5, 50))):
            place = draw.randrange(len(data))
            data[place : place + draw.randrange(3)] = draw.randbytes(draw.randrange(3))
        try:
            sent(service, bytes(data), ended=True, patience=5)
        except NotHttpError as error:
            raise AssertionError(bytes(data[:300])) from error


def test_many_at_once_are_all_answered(service):
    faults = []

    def ask():
        faults.extend(fault for _ in range(2) for fault in faults_of_cards(service.call(GOOD)))

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
