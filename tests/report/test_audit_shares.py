"""The picture of a share by month: each point at its height, and nothing outside its frame."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from contrast import contrast
from hypothesis import example, given
from hypothesis import strategies as st

from orderlint.audit.shares import wilson
from orderlint.report.blocks import Bar, Month, Monthly
from orderlint.report.picture.audit_shares import bar_svg, monthly_svg

SVG = "{http://www.w3.org/2000/svg}"
COUNTS = st.tuples(st.integers(0, 60), st.integers(0, 900)).map(lambda n: (n[0], n[0] + n[1]))
SERIES = st.lists(st.none() | COUNTS, min_size=1, max_size=40)


def months(series):
    return tuple(
        Month(f"{2020 + at // 12}-{at % 12 + 1:02d}", None)
        if counts is None or not counts[1]
        else Month(f"{2020 + at // 12}-{at % 12 + 1:02d}", counts[0] / counts[1], *wilson(*counts))
        for at, counts in enumerate(series)
    )


def drawn(shown):
    return ET.fromstring(monthly_svg(Monthly("Share of orders", shown, "m")))


def circles(picture):
    return [
        {k: float(v) for k, v in c.attrib.items() if k in {"cx", "cy"}}
        for c in picture.iter(f"{SVG}circle")
    ]


@given(SERIES)
@example([None])
@example([(0, 900)])
@example([(5, 5)])
def test_a_point_stands_for_each_month_that_is_shown_at_its_height(series):
    shown = months(series)
    picture = drawn(shown)
    width, height = (float(n) for n in picture.get("viewBox").split()[2:])
    points = circles(picture)
    shares = [month.share for month in shown if month.share is not None]
    assert len(points) == len(shares)
    for point in points:
        assert 0 <= point["cx"] <= width
        assert 0 <= point["cy"] <= height
    assert [p["cx"] for p in points] == sorted(p["cx"] for p in points)
    for one, other, a, b in zip(points, points[1:], shares, shares[1:], strict=False):
        assert (one["cy"] - other["cy"]) * (a - b) <= 0.2  # a higher share stands higher
    for number in re.findall(
        r"-?\d+\.?\d*", " ".join(p.get("d") for p in picture.iter(f"{SVG}path"))
    ):
        assert float(number) <= width


def test_the_words_say_each_month_and_what_is_hidden():
    picture = drawn(months([(540, 4797), None]))
    words = picture.find(f"{SVG}desc").text
    assert words == "2020-01: 11.3 % (from 10.4 to 12.2 %). 2020-02: hidden."


@given(SERIES)
def test_hidden_months_have_bands_of_all_heights_and_no_mark_on_the_axis(series):
    shown = months(series)
    picture = drawn(shown)
    _, *bands = picture.iter(f"{SVG}rect")
    room = (366 - 52) / len(shown)
    hidden = sum(month.share is None for month in shown)
    assert abs(sum(float(band.get("width")) for band in bands) - hidden * room) < 0.2 * len(shown)
    for band in bands:
        assert (float(band.get("y")), float(band.get("height"))) == (14, 138 - 14)
    said = [text for text in picture.iter(f"{SVG}text") if text.text == "hidden"]
    assert len(said) <= len(bands)
    if len(shown) <= 24:
        assert len(said) == len(bands)


def test_a_hidden_month_breaks_the_line():
    picture = drawn(months([(5, 9), None, (6, 9), (7, 9)]))
    line = next(p.get("d") for p in picture.iter(f"{SVG}path") if p.get("stroke-width") == "1.5")
    assert line.count("M") == 2
    assert line.count("L") == 1
    assert len(circles(picture)) == 3


def test_names_of_months_have_room():
    picture = drawn(months([(1, 9)] * 36))
    names = [t for t in picture.iter(f"{SVG}text") if re.fullmatch(r"\d{4}-\d\d", t.text)]
    assert 3 <= len(names) <= 7
    assert names[0].text == "2020-01"


def test_a_bar_is_as_long_as_it_says_and_hidden_from_a_screen_reader():
    bar = ET.fromstring(bar_svg(Bar(0.5, (0.4, 1.0))))
    assert bar.get("aria-hidden") == "true"
    room, filled = (float(r.get("width")) for r in bar.iter("rect"))
    assert filled == room / 2
    assert len([*bar.iter("path")]) == 2  # its edge, and the interval
    assert len([*ET.fromstring(bar_svg(Bar(1.0))).iter("path")]) == 1


def test_an_interval_is_dark_on_its_bar_and_beside_it():
    bar = ET.fromstring(bar_svg(Bar(0.5, (0.4, 1.0))))
    *_, line = bar.iter("path")
    for behind in bar.iter("rect"):
        assert contrast(line.get("stroke"), behind.get("fill")) >= 4.5
