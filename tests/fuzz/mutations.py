"""Changes the bytes of seeds at random, by pieces that mean something to a reader."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from random import Random

LONGEST = 20_000  # bytes
PIECES = [
    *(b"\n", b"\n  ", b"\r\n", b"\r", b"\t", b" ", b": ", b"- ", b"? ", b"?", b"#", b" #", b", "),
    *(b"{", b"}", b"[", b"]", b'"', b"'", b"|\n ", b">-\n  ", b"&a ", b"*a", b"!!int ", b"<<"),
    *(b"---\n", b"...\n", b"%TAG", b"%YAML 1.2\n", b"\\", b"\\u202e", b"\\ud800", b"\\x0", b"\\\n"),
    *(b"null", b"~", b"true", b"1e999", b"0x1F", b".nan", b"NaN", b"Infinity", b"-0", b"0.1"),
    *(b"1" * 41, b"9" * 18, b"\x00", b"\x1b", b"\xc2\x85", b"\xe2\x80\xa8", b"\xef\xbb\xbf"),
    *(b"\xff", b"\xed\xa0\x80", b"\xc2\xb5", b"\xf0\x9f\x98\x80", b"mmHg", b"cmH2O", b"mL/h"),
    *(b"not ", b" and ", b" or ", b"given(", b")", b"(", b" in {'", b"'}", b" <= ", b"*", b"/"),
    *(b"2026-03-02T14:30:00-06:00", b"9999-12-31T23:59:59Z", b"0001-01-01T00:00:00+14:00"),
]


def mutant(seed: bytes, others: Sequence[bytes], draw: Random) -> bytes:
    """Some changes to a seed, which may take from `others`; at most LONGEST bytes."""
    made = bytearray(seed)
    for _ in range(draw.choice((1, 1, 1, 2, 3, 5, 8))):
        _change(made, others, draw)
    return bytes(made[:LONGEST])


def _change(made: bytearray, others: Sequence[bytes], draw: Random) -> None:
    start, end = sorted(draw.randrange(len(made) + 1) for _ in range(2))
    end = min(end, start + draw.choice((0, 1, 1, 2, 8, 40, 400)))
    kind = draw.randrange(8)
    if kind == 0 and start < len(made):
        made[start] = draw.randrange(256)
    elif kind == 1:
        del made[start:end]
    elif kind == 2:
        made[start:start] = made[start:end] * draw.choice((1, 2, 60))
    elif kind == 3:
        _change_number(made, start, draw)
    elif kind == 4:
        _take_from(made, start, end, draw.choice(others), draw)
    elif kind == 5:
        _swap_lines(made, draw)
    else:
        made[start:end] = draw.choice(PIECES)


def _change_number(made: bytearray, start: int, draw: Random) -> None:
    found = re.compile(rb"\d+").search(made, start)
    if found:
        number = int(found[0][:40])
        values = (0, 1, number + 1, number * 10, number // 10, number - 1, 10**15)
        made[found.start() : found.end()] = str(draw.choice(values)).encode()


def _take_from(made: bytearray, start: int, end: int, other: bytes, draw: Random) -> None:
    at = draw.randrange(len(other) + 1)
    made[start:end] = other[at : at + draw.choice((4, 20, 100, 1000))]


def _swap_lines(made: bytearray, draw: Random) -> None:
    lines = made.split(b"\n")
    first, second = draw.randrange(len(lines)), draw.randrange(len(lines))
    lines[first], lines[second] = lines[second], lines[first]
    made[:] = b"\n".join(lines)
