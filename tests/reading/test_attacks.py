from __future__ import annotations

import time

import pytest
from each_case import of_each
from reading.attacks import JSON_HEAD, YAML_HEAD, attacks

from orderlint.finding import Place, Refused
from orderlint.reading import read
from orderlint.reading.node import Scalar
from orderlint.reading.quantity_text import split_quantity

ATTACKS = attacks()


@of_each("name", ATTACKS)
def test_refused_at_its_place_in_these_words(name: str) -> None:
    data, file, message, line, column = ATTACKS[name]
    with pytest.raises(Refused) as caught:
        read(data, file)
    assert caught.value.message == message
    assert caught.value.place == (Place(file, line, column) if line and column else file)


@pytest.mark.parametrize(
    ("name", "line", "column"),
    [
        ("duplicate key", 3, 1),
        ("duplicate key in quotes", 3, 1),
        ("duplicate key in JSON", 2, 1),
        ("two documents", 1, 1),
    ],
)
def test_the_other_place_is_named(name: str, line: int, column: int) -> None:
    data, file, *_ = ATTACKS[name]
    with pytest.raises(Refused) as caught:
        read(data, file)
    assert caught.value.also == Place(file, line, column)


@pytest.mark.parametrize(
    ("data", "file"),
    [(YAML_HEAD + b"rate: 1e999\n", "o.yaml"), (JSON_HEAD + b'"rate": 1e999}', "o.json")],
)
def test_a_huge_exponent_is_read_as_text_and_is_unsafe(data: bytes, file: str) -> None:
    rate = read(data, file).root.get("rate")
    assert isinstance(rate, Scalar)
    assert (rate.text, rate.raw, rate.form) == ("1e999", "1e999", "number")
    quantity = split_quantity(rate.text)
    assert quantity is not None
    assert quantity.unsafe == "it has an exponent"
    assert quantity.number is None


def test_at_the_limits_a_text_is_still_read() -> None:
    text = "x" * 20_000
    for data, file in (
        (YAML_HEAD + b"a: " + text.encode(), "o.yaml"),
        (JSON_HEAD + b'"a": "' + text.encode() + b'"}', "o.json"),
    ):
        value = read(data, file).root.get("a")
        assert isinstance(value, Scalar)
        assert value.text == text


def test_at_the_limits_a_file_is_still_read() -> None:
    lists = b"a: " + b"[" * 31 + b"]" * 31 + b"\n"
    digits = b"b: " + b"1" * 40 + b"\n"
    # 8 nodes of the head and the rest, 31 lists, and a list of items up to 20,000; then no key more
    # than 200.
    items = b"c: [" + b"1," * (20_000 - 8 - 32 - 2 - 2 * 195) + b"]\n"
    pairs = b"".join(b"k%d: 1\n" % number for number in range(195))
    filled = YAML_HEAD + lists + digits + items + pairs
    comment = b"#" * (1024 * 1024 - len(filled))
    assert len(read(filled + comment, "o.yaml").root.entries) == 200


@pytest.mark.parametrize("gap", [" ", "\n "], ids=["on one line", "on many lines"])
@pytest.mark.parametrize(("head", "file"), [(YAML_HEAD, "o.yaml"), (JSON_HEAD, "o.json")])
def test_the_largest_file_is_read_in_a_time_that_grows_with_it_alone(head, file, gap):
    """It takes some hundredths of a second; a square would take minutes."""
    texts = f",{gap}".join(f'"{"word " * 4_000}"' for _ in range(52))
    data = head + f'"a": [{gap}{texts}]'.encode() + (b"}" if file == "o.json" else b"\n")
    began = time.process_time()
    assert read(data, file).root.get("a") is not None
    assert time.process_time() - began < 1
