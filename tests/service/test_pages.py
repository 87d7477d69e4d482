"""Pages are kept for a while, and not without bound."""

from __future__ import annotations

import pytest

from orderlint.service import pages
from orderlint.service.pages import KeptPage, KeptPages


@pytest.fixture
def clock():
    return [0.0]


@pytest.fixture
def kept(clock):
    return KeptPages(lambda: clock[0])


def page(text="order", of=1):
    return KeptPage(text, 0, 0, "", of)


def test_a_name_cannot_be_guessed_and_no_two_are_alike(kept):
    names = {kept.keep(page()) for _ in range(100)}
    assert len(names) == 100
    assert {len(name) for name in names} == {32}  # 24 bytes in base64: 192 bits
    assert kept.get(names.pop()) == page()
    assert kept.get("") is None


def test_a_page_ends(kept, clock):
    first = kept.keep(page())
    clock[0] = pages.LONGEST_KEPT - 1
    second = kept.keep(page())
    assert kept.get(first)
    clock[0] = pages.LONGEST_KEPT
    assert kept.get(first) is None
    assert kept.get(second)


def test_the_oldest_make_room(kept, monkeypatch):
    monkeypatch.setattr(pages, "MOST_PAGES", 2)
    names = [kept.keep(page()) for _ in range(3)]
    assert [kept.get(name) is not None for name in names] == [False, True, True]


def test_long_texts_make_room_too(kept, monkeypatch):
    monkeypatch.setattr(pages, "MOST_CHARACTERS", 100)
    names = [kept.keep(page("x" * 40)) for _ in range(3)]
    assert [kept.get(name) is not None for name in names] == [False, True, True]
    assert kept.get(kept.keep(page("x" * 101))) is None
    assert not any(map(kept.get, names))
    # A text that several pages share is counted once.
    names = [kept.keep(page("x" * 90, 9)) for _ in range(9)]
    assert all(map(kept.get, names))
