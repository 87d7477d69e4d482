"""Parses JSON by the standard library, to see what a body is. Never a value of an order.

Numbers are left out, as none is looked at: they cost nothing, however long.
"""

from __future__ import annotations

import json


def _left_out(_number: str) -> None:
    return None


_DECODER = json.JSONDecoder(parse_int=_left_out, parse_float=_left_out, parse_constant=_left_out)


def plain_json(body: bytes) -> object:
    """The value in a text in UTF-8, each number of it None.

    Raises ValueError for what is no JSON, or goes deeper than the parser.
    """
    try:
        return _DECODER.decode(body.decode("utf-8").removeprefix("\ufeff"))
    except RecursionError:
        raise ValueError from None


def end_of_value(text: str, start: int) -> int:
    """The offset after the value that begins at one, in a text that is JSON."""
    _, end = _DECODER.raw_decode(text, start)
    return end
