"""The review on a screen: the verdict for an author, and each broken rule in a few lines."""

from __future__ import annotations

import re

import pytest
from order_sets import reviewed

from orderlint.finding import Verdict
from orderlint.report.review.brief import brief_blocks
from orderlint.report.review.narrowings import asked
from orderlint.report.review.words import picks
from orderlint.report.text import render_blocks
from orderlint.report.words import FOR_AUTHOR, LABELS, name_of

SETS = {
    "set-irrigation-adult.yaml": "SOUND",
    "set-irrigation-adult-revised.yaml": "CLARIFY",
    "set-irrigation-corners.yaml": "DO NOT RELEASE",
    "set-drainage-with-sections.yaml": "DO NOT RELEASE",
    "set-blanks-and-mixed-units.yaml": "DO NOT RELEASE",
}
MOST_LINES = 10
"""Lines of one broken rule, its heading among them."""


def brief(name, known=()):
    return render_blocks(brief_blocks(reviewed(name), known), width=80)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "verdict"), SETS.items())
def test_the_verdict_is_the_authors_and_a_broken_rule_is_short(name, verdict):
    text = brief(name)
    assert f"\n\nVerdict: {verdict}" in text
    assert max(map(len, text.splitlines())) <= 80
    assert "CALL" not in text
    for section in text.split("\n\n")[2:-1]:
        assert len(section.splitlines()) <= MOST_LINES


def test_the_sound_set_is_one_screen_and_the_cornered_one_shows_a_broken_rule_on_it():
    assert len(brief("set-irrigation-adult.yaml").splitlines()) < 24
    screen = "\n".join(brief("set-irrigation-corners.yaml").splitlines()[:23])
    assert "DO NOT RELEASE: treat-above-over-upper-pause" in screen
    assert "Would it do to offer only 8 mmHg, 10 mmHg or 12 mmHg" in " ".join(screen.split())


@pytest.mark.slow
def test_every_finding_is_named_whether_it_is_known_or_not():
    found = reviewed("set-blanks-and-mixed-units.yaml")
    text = " ".join(brief("set-blanks-and-mixed-units.yaml").split())
    shown = len(re.findall(r"Place: ", text))
    more = int(re.search(r"And (\d+) more findings?:", text)[1])
    missing = [f for f in found.assessment.findings if f.name.lower() in text.lower()]
    gone = text.partition("missing from the presets: ")[2].partition(".")[0].split(", ")
    assert shown + more + len(gone) == len(found.assessment.findings)
    assert missing


@pytest.mark.slow
def test_a_rule_that_a_heavier_one_covers_is_named():
    text = " ".join(brief("set-blanks-and-mixed-units.yaml").split())
    named = "display-unit-differs, drain-far-below-treat-above, output-limit-under-expected"
    assert f"Also broken; reported under another rule: {named}" in text
    assert "reported under another rule" not in brief("set-irrigation-corners.yaml")


@pytest.mark.slow
def test_what_is_not_in_the_order_is_not_picked():
    for name in SETS:
        for item in reviewed(name).broken:
            leaves = item.nearest.leaves
            hidden = [p.path for p in item.nearest.picks if not leaves[p.path].given]
            said = [pick for pick in picks(item) if not pick.endswith("left empty")]
            names = {pick.partition(":")[0] for pick in said}
            assert not names & {name_of(path) for path in hidden}


def test_what_is_known_already_is_a_line():
    found = reviewed("set-irrigation-corners.yaml")
    # A finding is known as it is told, with the narrowing as what is asked.
    text = brief("set-irrigation-corners.yaml", {*asked(found)})
    assert "6 findings known already: treat-above-over-upper-pause" in " ".join(text.split())
    assert "Place:" not in text


def test_each_verdict_has_a_name_for_an_author():
    assert FOR_AUTHOR.keys() == LABELS.keys() == {*Verdict}
