"""A catheter site as wards write it. A word that nobody listed makes a text unreadable."""

from __future__ import annotations

import pytest
from each_case import of_each

from orderlint.fields import field_table

SITE = field_table().fields["access"]


@pytest.mark.parametrize(
    ("texts", "site"),
    [
        (["R frontal", "r. frontal", "Rt frontal EVD", "right frontal EVD"], "right ventricle"),
        (["EVD, right", "R EVD", "right-sided ventriculostomy", "R/EVD"], "right ventricle"),
        (["right ventricular catheter", "Right lateral ventricle"], "right ventricle"),
        (["right frontal horn", "EVD at right Kocher's point"], "right ventricle"),
        (["L frontal", "left EVD", "left external ventricular drain"], "left ventricle"),
        (["lumbar drain", "ELD", "lumbar"], "lumbar"),
        (["right subdural drain", "subdural"], "subdural"),
        (["right ventricle and lumbar drain", "R EVD + LD"], "ventricle and lumbar"),
        (["lumbar and left frontal EVD", "EVD/lumbar"], "ventricle and lumbar"),
    ],
)
def test_a_site_is_read_from_its_words(texts, site):
    assert {SITE.choice_of(text) for text in texts} == {site}


@of_each(
    "text",
    [
        *("right", "R", "EVD", "drain", "right parietal", "frontal", ""),
        *("right and left frontal", "bilateral EVDs", "R frontal, L frontal"),
        *(
            "not right frontal",
            "right frontal EVD removed",
            "right frontal bolt",
            "right or left EVD",
        ),
        *("right frontal subdural", "left lumbar", "third ventricle", "head", "R frontal?"),
    ],
)
def test_what_does_not_say_one_site_is_not_read(text):
    assert SITE.choice_of(text) is None


def test_a_field_without_such_words_is_read_as_before():
    landmark = field_table().fields["drainage.landmark"]
    assert landmark.choice_of("the tragus") is None
    assert landmark.choice_of("Tragus") == "tragus"
