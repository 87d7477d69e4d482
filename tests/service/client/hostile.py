"""Requests sent as they are, and every answer until the connection ends."""

from __future__ import annotations

from service.client.hooks import call
from service.client.orders import device_request, examples
from service.client.running_service import as_json
from service.client.wire import Connection, request

REFUSED = {400, 413, 415, 422}
OURS = {500, 502, 503, 504}
GOOD = call("order-sign", device_request(examples()[0]))
TEXT = as_json(GOOD)


def sent(service, *chunks, ended=False, patience=20.0):
    """The answers to bytes on a connection, until it ends or nothing comes for so many seconds."""
    answers = []
    with Connection(service.address, patience) as connection:
        for chunk in chunks:
            connection.send_as_far_as_taken(chunk)
        if ended:
            connection.no_more_if_open()
        while answer := connection.answer_if_any():
            answers.append(answer)
            assert answer.status not in OURS, answer
    return answers


def once(path, service, body=b"", **fields):
    """A POST of which the connection ends with the answer."""
    return request("POST", path, service.host, body, connection="close", **fields)
