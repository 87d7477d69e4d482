"""No bytes whatsoever give anything but a Document or a refusal."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from orderlint.finding import Place, Refused
from orderlint.reading import Document, read

FILES = st.sampled_from(["o.yaml", "o.json", "-", ""])
YAML_HEAD = "document: order\nformat: 1\n"
JSON_HEAD = '{"document": "order", "format": 1, "a": '
# Pieces that mean something to one of the parsers.
PIECES = st.sampled_from(
    [
        *["a", "b:", ": ", "- ", "? ", "\n", "\n  ", "\r\n", "\t", "{", "}", "[", "]", ", ", '"'],
        *["'", "#", " #", "|\n ", ">-\n ", "&a", "*a", "!", "!!int ", "<<", "%TAG", "%YAML 1.2"],
        *["---\n", "...\n", "\\", "\\u202e", "\\ud800", "\\x", "\\\n", "null", "~", "true"],
        *["1e999", "0x1F", ".nan", "NaN", "Infinity", "1" * 41, "\x1b", "\x85", "\u2028", "\r"],
        *["\ufeff", "\x00", "@"],
    ]
)


def refusal_of(data: bytes, file: str) -> Refused | None:
    """What `data` is refused with, or None if it is read; anything else is raised."""
    try:
        assert isinstance(read(data, file), Document)
    except Refused as refused:
        return refused
    return None


def holds(data: bytes, file: str) -> None:
    refused = refusal_of(data, file)
    if refused is None:
        return
    assert refused.message.endswith(".")
    assert "\x1b" not in refused.message
    if isinstance(refused.place, Place):
        assert refused.place.line >= 1
        assert refused.place.column >= 1
    else:
        assert refused.place == file


@given(st.binary(), FILES)
def test_any_bytes(data: bytes, file: str) -> None:
    holds(data, file)


@given(st.text(), FILES)
def test_any_text_after_a_head(text: str, file: str) -> None:
    head = JSON_HEAD if file == "o.json" else YAML_HEAD
    holds((head + text).encode("utf-8", "surrogatepass"), file)


@given(st.lists(PIECES, max_size=30), st.sampled_from([YAML_HEAD, JSON_HEAD, ""]), FILES)
def test_any_pieces(pieces: list[str], head: str, file: str) -> None:
    holds((head + "".join(pieces)).encode(), file)


@given(st.integers(0, 120), st.binary(max_size=3), FILES)
def test_a_sound_file_with_a_spot(at: int, spot: bytes, file: str) -> None:
    yaml = (
        b"document: order\nformat: 1\npause: {lower: 2 mmHg, upper: '22 mmHg'}\nstop: |\n  clear\n"
    )
    json = b'{"document": "order", "format": 1, "pause": {"lower": "2 mmHg", "upper": [22, 1e3]}}'
    data = json if file == "o.json" else yaml
    holds(data[:at] + spot + data[at + len(spot) :], file)
