"""The layout of the picture: all in the frame, no label on another, and the one table drawn."""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from xml.etree import ElementTree

import pytest
from contrast import contrast
from hypothesis import example, given
from hypothesis import strategies as st
from levels import LEVELS, ORDERED, THERAPIES, leaves_of, order_of

from orderlint.behaviour import behaviour_of
from orderlint.order import Leaf, State
from orderlint.report.order.segment_words import action_words, opens_drain
from orderlint.report.picture import drawing as places
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.picture.drawing import drawing_of, drawings_of
from orderlint.report.picture.labels import LINE, SIZE, text_width
from orderlint.report.picture.segment_kinds import STYLES, kind_of
from orderlint.report.picture.shapes import PAPER, QUIET, TEXT
from orderlint.report.picture.svg import svg
from orderlint.report.picture.text import NARROWEST, picture_lines

GROUPS = ("adult", "child", "infant", None)
MMHG = 13_595_100


def diagram(therapy, levels, group="adult", unit="mmHg"):
    known = {"patient.group": group, "display_unit": unit}
    leaves = order_of(therapy, levels) | {
        path: Leaf(path, State.KNOWN, value) for path, value in known.items() if value
    }
    return diagram_of(behaviour_of(leaves, "gravity"), leaves)


SCENES = st.builds(
    diagram,
    st.sampled_from(THERAPIES),
    ORDERED | ORDERED.map(lambda four: tuple(x and x * MMHG // 4 % 10**10 for x in four)),
    st.sampled_from(GROUPS),
    st.sampled_from(["mmHg", "cmH2O"]),
)
PATHS = ("pause.lower", "pause.upper", "treat_above", "drainage.height")
STATES = st.sampled_from(State)
PARTLY_KNOWN = st.builds(
    lambda therapy, levels, states: (
        leaves_of(**({"therapy": therapy} if therapy else {}))
        | {
            path: Leaf(path, state, level if state is State.KNOWN else None)
            for path, level, state in zip(PATHS, levels, states, strict=True)
        }
    ),
    st.none() | st.sampled_from(THERAPIES),
    st.tuples(LEVELS, LEVELS, LEVELS, LEVELS),
    st.tuples(STATES, STATES, STATES, STATES),
)
CLEAN = diagram("irrigation", (2 * MMHG, 22 * MMHG, 8 * MMHG, 5 * MMHG))


def boxes(picture):
    """Each text as left, top, right, bottom: as wide as it is reckoned to be."""
    for label in (*picture.levels, *picture.segments):
        for index, line in enumerate(label.lines):
            wide = text_width(line)
            left = label.x + label.width - wide if label.end else label.x
            yield left, label.y + index * LINE, left + wide, label.y + (index + 1) * LINE
    for number in picture.numbers:
        wide = text_width(number.text, places.NUMBER_SIZE)
        left = places.NUMBERS[0] - wide if number.left else places.NUMBERS[1]
        yield left, number.y - SIZE // 2, left + wide, number.y + SIZE // 2
    yield 0, 0, places.WIDTH, places.UNITS_LINE + 3
    yield 0, picture.axis[1] + 2, places.WIDTH, picture.height


@given(SCENES)
@example(CLEAN)
@example(diagram("irrigation", (2, 2, 2, 2)))
@example(diagram("irrigation", (-99 * MMHG, 99 * MMHG, 0, 1), None))
def test_texts_stand_apart_and_in_the_frame(drawn):
    picture = drawing_of(drawn)
    found = list(boxes(picture))
    for left, top, right, bottom in found:
        assert 0 <= left < right <= places.WIDTH
        assert 0 <= top < bottom <= picture.height
    for one, other in combinations(found, 2):
        beside = one[2] <= other[0] or other[2] <= one[0]
        assert beside or one[3] <= other[1] or other[3] <= one[1], (one, other)


@given(PARTLY_KNOWN, st.sampled_from(["gravity", None]))
def test_any_order_has_a_picture_of_its_known_levels_or_none(leaves, outflow):
    drawn = diagram_of(behaviour_of(leaves, outflow), leaves)
    known = [path for path in PATHS if leaves[path].known]
    if not known:
        assert drawn is None
        return
    picture = drawing_of(drawn)
    assert sorted(picture.lines) == sorted(known)
    assert [band.segment for band in picture.bands] == [*behaviour_of(leaves, outflow).segments]
    top, bottom = picture.axis
    assert all(top < y < bottom for y in picture.lines.values())
    ElementTree.fromstring(svg(picture, "a"))
    assert all(len(line) <= 80 for line in picture_lines(drawn, 80))


@given(SCENES)
def test_the_bands_are_the_table_of_segments_and_fill_the_axis(drawn):
    picture = drawing_of(drawn)
    assert tuple(band.segment for band in picture.bands) == drawn.segments
    assert picture.bands[0].bottom == picture.axis[1]
    assert picture.bands[-1].top == picture.axis[0]
    for below, above in pairwise(picture.bands):
        assert below.top == above.bottom
    assert all(band.bottom - band.top >= 8 for band in picture.bands)
    acts = opens_drain(drawn.segments)
    assert [band.kind for band in picture.bands] == [kind_of(s, acts) for s in drawn.segments]


@given(SCENES)
def test_heights_are_in_the_order_of_pressures_and_to_scale_unless_said(drawn):
    picture = drawing_of(drawn)
    by_pressure = sorted(drawn.marks, key=lambda mark: mark.ticks)
    y = picture.lines
    for lower, higher in pairwise(by_pressure):
        assert y[lower.path] >= y[higher.path]
        assert (y[lower.path] == y[higher.path]) is (lower.ticks == higher.ticks)
    lowest, *others = by_pressure
    rises = [(m.ticks - lowest.ticks, y[lowest.path] - y[m.path]) for m in others]
    most = max(rises, default=(0, 0))
    if picture.to_scale and most[0]:
        # Within the rounding of two places to whole units of the drawing.
        assert all(abs(rise - ticks * most[1] / most[0]) <= 2 for ticks, rise in rises)
    assert (places.NOT_TO_SCALE in svg(picture, "a")) is not picture.to_scale


@given(SCENES, SCENES)
def test_side_by_side_one_pressure_is_at_one_height(one, other):
    pictures = drawings_of((one, other))
    assert len({picture.height for picture in pictures}) == 1
    y = {}
    for scene_of_it, picture in zip((one, other), pictures, strict=True):
        assert tuple(band.segment for band in picture.bands) == scene_of_it.segments
        ticks = {mark.path: mark.ticks for mark in scene_of_it.marks}
        for path, at in picture.lines.items():
            assert y.setdefault(ticks[path], at) == at
        for one_box, other_box in combinations(boxes(picture), 2):
            beside = one_box[2] <= other_box[0] or other_box[2] <= one_box[0]
            assert beside or one_box[3] <= other_box[1] or other_box[3] <= one_box[1]
    heights = [y[level] for level in sorted(y)]
    assert heights == sorted(set(heights), reverse=True)


def test_the_scales_show_one_pressure_at_one_height():
    picture = drawing_of(CLEAN)
    assert picture.to_scale
    y = picture.lines
    per_mmhg = (y["pause.lower"] - y["pause.upper"]) / 20
    for number in picture.numbers:
        # 1 mmHg = 1.35951 cmH2O (conventional mercury, 13.5951 g/mL).
        mmhg = int(number.text) / (1 if number.left else 1.35951)
        assert number.y == pytest.approx(y["pause.lower"] - (mmhg - 2) * per_mmhg, abs=1.5)
    assert {number.left for number in picture.numbers} == {True, False}


def test_the_normal_range_is_that_of_the_group():
    # The Anesthesia Guide, ch. 98: adult 5-15, child 3-7, infant 1.5-6 mmHg, supine.
    picture = drawing_of(CLEAN)
    y = picture.lines
    per_mmhg = (y["pause.lower"] - y["pause.upper"]) / 20
    assert picture.normal == pytest.approx(
        (y["pause.lower"] - 13 * per_mmhg, y["pause.lower"] - 3 * per_mmhg), abs=1.5
    )
    for group, words in (("child", "3 to 7 mmHg"), ("infant", "1.5 to 6 mmHg")):
        drawn = diagram("irrigation", (2 * MMHG, 22 * MMHG, 8 * MMHG, None), group)
        assert any(words in line for label in drawing_of(drawn).levels for line in label.lines)
    assert drawing_of(diagram("irrigation", (0, 9, 5, 3), None)).normal is None


@given(SCENES)
def test_the_words_say_every_level_and_every_segment(drawn):
    element = ElementTree.fromstring(svg(drawing_of(drawn), "a"))
    words = element.find("{*}desc").text
    acts = opens_drain(drawn.segments)
    assert all(f"{mark.name}: " in words for mark in drawn.marks)
    assert all(f"{action_words(segment, acts)}." in words for segment in drawn.segments)
    named = element.get("aria-labelledby").split()
    assert [part.get("id") for part in element if part.get("id") in named] == named
    assert element.get("role") == "img"


@given(SCENES)
def test_the_svg_has_shapes_and_texts_and_nothing_that_acts_or_fetches(drawn):
    element = ElementTree.fromstring(svg(drawing_of(drawn), "a"))
    kinds = {part.tag.removeprefix("{http://www.w3.org/2000/svg}") for part in element.iter()}
    assert kinds <= {"svg", "title", "desc", "rect", "path", "circle", "text", "pattern"}
    ids = [part.get("id") for part in element.iter() if part.get("id")]
    assert len(ids) == len(set(ids))
    for part in element.iter():
        assert not any(name.startswith("on") or "href" in name for name in part.attrib)
        assert "style" not in part.attrib
        for value in part.attrib.values():
            assert all(name in ids for name in re.findall(r"url\(#(.*?)\)", value))
            assert "url(" not in value or value.startswith("url(#a-")


def test_contrast_is_reckoned_as_published():
    # WCAG 2.2: from 1:1 to 21:1. #767676 on white is 4.54:1, from memory.
    assert contrast("#000000", "#ffffff") == 21
    assert contrast("#123456", "#123456") == 1
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_words_and_patterns_have_the_contrast_that_they_need():
    # WCAG 2.2 AA: 4.5:1 for text (1.4.3), 3:1 for what is needed to understand a picture (1.4.11).
    assert contrast(TEXT, PAPER) >= 4.5
    assert contrast(QUIET, PAPER) >= 4.5
    for look in STYLES.values():
        assert contrast(look.ink, look.fill) >= 3
        assert contrast(TEXT, look.fill) >= 3


def test_no_two_kinds_share_a_pattern_or_a_character():
    assert len({look.pattern for look in STYLES.values()}) == len(STYLES)
    signs = [style.sign for style in STYLES.values()]
    assert len(set(signs)) == len(signs)
    assert all(len(sign) == 1 for sign in signs)


def signs_of(lines):
    """The character of each row of the axis, from the top."""
    return [line.split("│")[1][0] for line in lines if "│" in line]


@given(SCENES)
def test_the_text_picture_draws_the_same_segments(drawn):
    lines = picture_lines(drawn, 80)
    assert max(map(len, lines)) <= 80
    acts = opens_drain(drawn.segments)
    due = [STYLES[kind_of(segment, acts)].sign for segment in reversed(drawn.segments)]
    signs = signs_of(lines)
    joined = [sign for index, sign in enumerate(signs) if index == 0 or sign != signs[index - 1]]
    same = [sign for index, sign in enumerate(due) if index == 0 or sign != due[index - 1]]
    assert joined == same
    names = [mark.name for mark in reversed(drawn.marks)]
    assert [line[2:].split("  ")[0] for line in lines if re.search("[━─╌]", line)] == names


@given(SCENES, st.integers(0, 200))
def test_the_text_picture_keeps_to_any_width_or_is_left_out(drawn, width):
    lines = picture_lines(drawn, width)
    assert bool(lines) is (width >= NARROWEST)
    assert all(len(line) <= width for line in lines)


def test_the_text_picture_of_the_clean_order():
    assert picture_lines(CLEAN, 80) == PICTURE.strip("\n").split("\n")


PICTURE = """
                     mmHg            cmH2O
                            │░░░░│   irrigation off, outflow possible by gravity
  Upper pause limit    22 ━━━━━━━━━━ 29.9
                            │▒▒▒▒│
                            │▒▒▒▒│   irrigation on, outflow possible by gravity
                            │▒▒▒▒│
                            │▒▒▒▒│
  Treat-above level     8 ────────── 10.9
                            │····│   watching only
  Drain height          5 ╌╌╌╌╌╌╌╌╌╌ 6.8
                            │····│
  Lower pause limit     2 ━━━━━━━━━━ 2.7
                            │××××│   all stopped; the low limit warns
  Normal ICP of an adult, lying: 5 to 15 mmHg. Heights in this picture are not
  to scale.
"""
