"""What a text says of one setting is held against that setting: its direction, sign and unit."""

from __future__ import annotations

import pytest
from each_case import of_each
from test_mention_check import verified

from orderlint.finding import Verdict

CLEAN = (
    "therapy: irrigation\ndisplay_unit: mmHg\npause: {lower: 2 mmHg, upper: 22 mmHg}\n"
    "treat_above: 8 mmHg\nirrigation: {rate: 60 mL/h, fluid: lactated Ringer's, additive: none}\n"
    "drainage: {height: 5 mmHg, landmark: tragus, hourly_max: 120 mL/h}\n"
    "titration: {step: 10 mL/h, max: 90 mL/h}\n"
    "notify: {icp_above: 20 mmHg, icp_below: 3 mmHg}\n"
)
NUMBER, ORDER, ACT = "text-number-differs", "text-orders-otherwise", "text-asks-for-act"
ASKED = [
    ("drain 5 mmHg below the tragus", NUMBER),
    ("keep EVD 5 below the ear", NUMBER),
    ("EVD at minus 5 mmHg", NUMBER),
    ("EVD at negative 5 mmHg", NUMBER),
    ("upper pause 2, lower pause 22", ORDER),
    ("if awake, upper pause 2, lower pause 22", NUMBER),
    ("pause if awake above 22, pause above 2 when asleep", NUMBER),
    ("treat below 8 mmHg", NUMBER),
    ("allow ICP up to 27", NUMBER),
    ("Irrigation rate 90", ORDER),
    ("if febrile, irrigation rate 90", NUMBER),
    ("rate 10 mL/h if cold", NUMBER),
    ("call if ICP above 22 mmHg", NUMBER),
    ("page neurosurgery at once if ICP exceeds 22", NUMBER),
    ("call if ICP below 20 mmHg", NUMBER),
    ("pause limits 2 to 30", ORDER),
    ("level at foramen of Monro", NUMBER),
    ("irrigate with normal saline", NUMBER),
    ("zero the drain at the tragus, keep it at 10 mmHg", NUMBER),
    ("was at 10, drain now at 12", NUMBER),
    ("drain as at insertion, keep 12 mmHg", NUMBER),
    ("all levels in cmH2O", NUMBER),
    ("levels are cmH2O not mmHg", NUMBER),
    ("add gentamycin to the bag", ACT),
    ("put 20 mEq potassium in each litre", ACT),
    ("override pause limits as needed", ACT),
    ("Turn off the low ICP alarm", ACT),
]
QUIET = """
drain at 5 mmHg above the tragus
upper pause 22, lower pause 2
do not treat below 8 mmHg
rate 60 to 90 mL/h
raise the rate by 10 mL/h to a maximum of 90 mL/h
irrigation rate 60 mL/h, titrate to 90 mL/h
rate may go to 90
irrigation pauses above 22; call if it does
call if ICP above 20 or below 3
call if ICP above 20 mmHg
irrigate if ICP above 8 and call
EVD in since 28 Feb; day 3
EVD placed 2 March 2026
EVD placed on March 2
ICP 12 at insertion
ICP was 14 on admission
irrigation day 2 of 5
previous rate was 40 mL/h
levels are in mmHg
drain scale in cmH2O
do not add drugs to the bag
never turn off the alarms
""".strip().splitlines()


def findings(text: str) -> list[str]:
    found = verified(f'{CLEAN}instructions: "{text}"\n').assessment.findings
    return [each.rule for each in found if each.rule.startswith("text-")]


@of_each(("text", "rule"), ASKED)
def test_another_direction_sign_unit_or_setting_is_asked_about(text, rule):
    assert findings(text) == [rule]


@of_each("text", QUIET)
def test_the_same_and_what_is_told_are_not(text):
    assert {*findings(text)} <= ({ACT} if "titrate" in text else set())


LISTED = """
levels are cmH2O, all of them
IT vancomycin 20 mg daily
use sterile water
fluid: D5W
irrigate even if nothing drains
Do not monitor ICP at night
call if 60 mL retained
bolus 20 mL at start
do not clamp
head of bed up 30
previous rate was 40 mL/h
anything at all
""".strip().splitlines()
AGREED = """
irrigate at 60 mL/h
Drain height 5 mmHg above tragus, treat above 8 mmHg
Irrigation rate 60 mL/h
call if ICP above 20 mmHg
call before any change of the drain height
none
""".strip().splitlines()


@of_each("text", LISTED)
def test_instructions_that_are_not_understood_whole_are_listed(text):
    result = verified(f'{CLEAN}instructions: "{text}"\n')
    assert [item.text for item in result.not_checked] == [text]


@of_each("text", AGREED)
def test_instructions_that_say_what_the_settings_say_are_checked(text):
    assert verified(f'{CLEAN}instructions: "{text}"\n').not_checked == ()
    assert findings(text) == []


INDICATIONS = [
    ("SAH from ruptured unsecured aneurysm", True, True),
    ("aneurysmal SAH, coiled", True, True),
    ("SAH, no aneurysm seen", False, True),
    ("IVH; INR 4.2 on warfarin", True, True),
    ("IVH on warfarin, reversed", False, True),
    ("IVH in 3 week old preterm infant", True, True),
    ("hydrocephalus of prematurity", False, False),
    ("20 mEq KCl per bag", False, True),
    ("ICP 35", False, True),
    ("intraventricular haemorrhage", False, False),
    ("trial with the drain closed", False, False),
]
PATIENT = "patient: {group: adult, vascular_lesion: none, anticoagulation: none}\n"


@of_each(("text", "is_asked", "is_listed"), INDICATIONS)
def test_an_indication_is_held_against_the_patient(text, is_asked, is_listed):
    result = verified(f'{PATIENT}indication: "{text}"\n')
    asked = [each.rule for each in result.assessment.findings if each.rule.startswith("text-")]
    assert asked == [NUMBER] * is_asked
    assert [item.path for item in result.not_checked] == ["indication"] * is_listed


def test_an_indication_that_the_patient_fits_is_not_listed():
    secured = PATIENT.replace("vascular_lesion: none", "vascular_lesion: secured")
    assert verified(f"{secured}indication: 'haemorrhage, aneurysm coiled'\n").not_checked == ()


@pytest.mark.parametrize(
    ("text", "verdict"),
    [("VOID", Verdict.DO_NOT_START), ("hold order until the scan is seen", Verdict.CLARIFY)],
)
def test_an_order_that_takes_itself_back_is_never_clear(text, verdict):
    found = verified(f"{CLEAN}instructions: {text}\n").assessment.findings
    levels = {each.rule: each.level.value for each in found if each.rule.startswith("text-")}
    assert [*levels.values()] == [verdict.value]
