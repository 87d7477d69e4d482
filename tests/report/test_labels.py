"""Labels: wrapped at blanks, and stacked in order without touching."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from orderlint.report.picture.labels import stacked, text_width, wrapped


@given(
    st.lists(st.tuples(st.integers(5, 60), st.integers(0, 500)), min_size=1, max_size=9),
)
def test_stacked_boxes_stand_in_order_apart_and_between_the_edges(drawn):
    heights = [height for height, _ in drawn]
    wanted = sorted(middle for _, middle in drawn)
    bottom = max(500, sum(heights) + 5 * len(heights))
    edges = stacked(heights, wanted, 0, bottom)
    assert edges[0] >= 0
    assert edges[-1] + heights[-1] <= bottom
    for (edge, height), after in zip(zip(edges, heights, strict=True), edges[1:], strict=False):
        assert edge + height + 5 <= after


def test_a_box_with_room_stands_where_it_wants_to():
    assert stacked([10, 10], [20, 80], 0, 100) == [15, 75]
    # Both want the middle of 50: together they stand around it.
    assert stacked([10, 10], [50, 50], 0, 100) == [38, 53]


@given(st.lists(st.text("abcmW1.", min_size=1), min_size=1).map(" ".join), st.integers(1, 200))
def test_wrapped_lines_keep_every_word_in_order(text, width):
    lines = list(wrapped(text, width))
    assert " ".join(lines) == text
    assert all(text_width(line) <= width or " " not in line for line in lines)
