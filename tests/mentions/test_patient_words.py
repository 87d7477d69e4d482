"""An indication that holds what has a setting of its own is not taken for a reason to irrigate."""

from __future__ import annotations

from each_case import of_each

from orderlint.mentions.patient_words import names_settings, patient_mentions


@of_each(
    "words",
    [
        *("unsecured", "not yet coiled", "unclipped", "aneurysmal SAH", "AVM", "dural fistula"),
        *("arteriovenous malformation", "on apixaban", "anticoagulated", "INR 4.2", "dabigatran"),
        *("neonate", "newborn", "preterm baby", "premature infant", "heparin", "enoxaparin"),
        *("alteplase", "tPA", "vancomycin", "gentamicin", "colistin", "potassium", "KCl"),
        *("in mmHg", "in cmH2O", "two bags", "a litre", "alarms off", "irrigate", "void"),
        *("on hold", "cancelled", "superseded", "20 mg", "5 %", "WARFARIN", "Neonat\u017f"),
    ],
)
def test_what_has_a_setting_is_seen(words):
    text = f"IVH, {words}"
    assert names_settings(text) or patient_mentions(text)


@of_each("words", ["", "after resection", "with casts", "left more than right"])
def test_a_plain_reason_is_plain(words):
    text = f"intraventricular haemorrhage {words}"
    assert not names_settings(text)
    assert not patient_mentions(text)
