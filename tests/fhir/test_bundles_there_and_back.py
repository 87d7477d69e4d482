"""An order → Bundle → order: the same findings, open rules, behaviour and texts as written."""

from __future__ import annotations

import re

import pytest
from each_case import holds_of_each
from fhir.decoded import texts_of
from fhir.drawn_texts import drawn_order
from fhir.verdicts import said
from running import run

from orderlint.order_reader import read_order
from orderlint.reading import read

FEW, MANY = 24, 2_000
HEAD = {"document", "format"}


def texts(text: bytes) -> dict[str, str]:
    """The texts of an order's leaves, letter by letter."""
    leaves = read_order(read(text, "order", "order")).leaves
    found = {path: leaf.text for path, leaf in leaves.items() if leaf.text and path not in HEAD}
    if found.get("irrigation.additive") == found.get("irrigation.additive.name"):
        found.pop("irrigation.additive.name", None)  # one text is read as both
    return found


def converted(text: bytes, to: str) -> bytes:
    """What `convert` writes; nothing where it names what has no place in FHIR."""
    ran = run("convert", "--to", to, "-", stdin=text)
    if ran.status == 2 and to == "fhir":
        for line in ran.err.splitlines():
            assert is_no_text(text, line), (line, text.decode())
    else:
        assert ran.status == 0, (ran.status, ran.err, text.decode())
    return ran.out


def is_no_text(order: bytes, said: str) -> bool:
    """Whether a refusal is of a setting that is written as a number or a truth value, or of a
    count that is written as a text.
    """
    match = re.fullmatch(r"<stdin>:(\d+):\d+: .* is written as no text, .*", said)
    line = order.decode().splitlines()[int(match[1]) - 1] if match else ""
    return re.search(r': (true|false|[-\d.]+),?$|^ *"?revision"?: "\d+",?$', line) is not None


def there_and_back(seed: int) -> None:
    """The order of a seed loses nothing on its way through a Bundle."""
    order = drawn_order(seed).encode()
    bundle = converted(order, "fhir")
    if bundle:
        assert texts_of(bundle.decode()) == texts(order)
        back = converted(bundle, "orderlint")
        assert texts(back) == texts(order)
        assert said(back) == said(order)
        assert said(bundle) == said(order)


@pytest.mark.slow
def test_some_drawn_orders() -> None:
    holds_of_each(range(FEW), there_and_back)


@pytest.mark.deep
@pytest.mark.parametrize("part", range(8))
def test_two_thousand_drawn_orders(part: int) -> None:
    holds_of_each(range(part, MANY, 8), there_and_back)
