"""Instructions against fields: each contradiction is found, and what agrees is left alone.

The sentences are common practice, no published source.
"""

from __future__ import annotations

import random

import pytest
from drawing import share_of

from orderlint.sentences.text_reading import read_text
from orderlint.verification import verify

SENTENCES = {
    "irrigation.rate": (
        "Irrigate at {}",
        "run irrigation at {}",
        "Set the rate to {}",
        "rate {}",
        "irrigation rate: {}",
    ),
    "treat_above": ("treat above {}", "irrigate only when ICP is above {}", "Treat-above level {}"),
    "drainage.height": (
        "keep the drain at {}",
        "EVD at {} above the tragus",
        "hang the drip chamber at {}",
        "drain height {}",
    ),
    "pause.upper": (
        "pause above {}",
        "upper pause limit {}",
        "pause when ICP is above {}",
        "Upper limit {}",
    ),
    "pause.lower": (
        "pause below {}",
        "lower pause limit: {}",
        "pause irrigation when the ICP is under {}",
    ),
}
AROUND = ("{}", "{}.", "Neuro checks hourly. {}", "{}; call with questions", "- {}\n- thank you")
NUMBERS = {
    "irrigation.rate": (range(10, 181, 5), "mL/h"),
    "treat_above": (range(5, 16), "mmHg"),
    "drainage.height": (range(2, 16), "mmHg"),
    "pause.upper": (range(17, 31), "mmHg"),
    "pause.lower": (range(1, 5), "mmHg"),
}
RULES = {"text-orders-otherwise", "text-number-differs", "text-asks-for-act"}
HARD = "text-orders-otherwise"


def found(path, field, said, draw):
    sentence = draw.choice(AROUND).format(draw.choice(SENTENCES[path]).format(said))
    section, dot, key = path.partition(".")
    setting = f"{section}: {{{key}: {field}}}" if dot else f"{section}: {field}"
    other = "landmark: tragus" if path == "drainage.height" else ""
    if other:
        setting = f"drainage: {{height: {field}, {other}}}"
    text = (
        f"document: order\nformat: 1\ntherapy: irrigation\n{setting}\ninstructions: |\n  "
        + sentence.replace("\n", "\n  ")
    )
    findings = verify(text.encode(), "order.yaml", 0).assessment.findings
    return sentence, [each.rule for each in findings if each.rule in RULES]


@pytest.mark.hypothesis
def test_each_contradiction_between_note_and_field_is_found_and_nothing_where_they_agree():
    draw = random.Random(20261129)
    hard = 0
    for _ in range(share_of(500)):
        path = draw.choice([*SENTENCES])
        numbers, unit = NUMBERS[path]
        field, other = draw.sample([*numbers], 2)
        sentence, rules = found(path, f"{field} {unit}", f"{other} {unit}", draw)
        assert rules, (path, field, sentence)
        hard += HARD in rules
        sentence, rules = found(path, f"{field} {unit}", f"{field} {unit}", draw)
        assert not rules, (path, field, sentence)
    assert hard  # each is understood whole, or it is asked about


def test_a_level_in_the_other_unit_agrees_to_its_last_digit():
    draw = random.Random(1)
    for field, said, agrees in (
        ("10 cmH2O", "7 mmHg", True),
        ("10 cmH2O", "8 mmHg", False),
        ("22 mmHg", "30 cmH2O", True),
        ("22 mmHg", "22 cmH2O", False),
    ):
        _, rules = found("drainage.height", field, said, draw)
        assert (not rules) is agrees, (field, said)


def test_what_the_sentences_say_is_understood():
    understood = [
        sentence
        for path, several in SENTENCES.items()
        for sentence in several
        if read_text(sentence.format(f"5 {NUMBERS[path][1]}")).values
    ]
    assert len(understood) == sum(map(len, SENTENCES.values()))
