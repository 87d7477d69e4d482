"""Small changes to the clean Bundle, each of which ought to change what may be started.

All are FHIR as the standard has it, but for those of `NOT_FHIR`.
"""

from __future__ import annotations

from fhir.mutants_of_drugs import DRUG
from fhir.mutants_of_requests import MEANING, STATE, WHO
from fhir.mutants_of_settings import SETTINGS, VALUES

MUTANTS = {**WHO, **STATE, **MEANING, **VALUES, **SETTINGS, **DRUG}
NOT_FHIR = {
    "the drug part without a status",
    "an entry that deletes",
    "less than, in the drug part",
    "a unit's code that UCUM has not",
    "a bag that leads nowhere",
    "no subject",
    "no subject of the drug part",
    "a status in other letters",
    "an intent in other letters",
    "no intent",
    "no intent of the drug part",
    "an element that R4 has not",
    "a word of the drug part that is misspelt",
    "an element of a Quantity that R4 has not",
    "a status of the Bundle",
    "a code without its system",
    "a code of another unit without its system",
    "a number as a text",
    "an empty text",
    "a code that differs by a blank",
    "the order's code of another thing",
    "a parameter of nothing",
    "a resource that nobody knows",
    "an entry that is null",
    "no drug in the drug part",
    "a bag to which nothing leads",
    "two kinds of drug",
    "a rate and a ratio",
    "a subject that is a request",
}
"""Of those, what is not as the standard has it, and reaches a reader all the same."""
PECULIAR = {"a status of which only an extension stands", "a subject that is a device"}
"""What the standard allows, and a validator of others stumbles over."""
