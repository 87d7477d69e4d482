"""Proofs over every order that a set can yield: each rule proved, or the order that breaks it.

Joins the rulebook's conditions and a set's options. Never a file, never a word of a report.
"""

from orderlint.proof.certificates import CertificateRefused, certificate, recheck
from orderlint.proof.choices import Choices, NeverSound, choices_of
from orderlint.proof.counterexample import Counterexample, Pick, SectionChoice, counterexample_of
from orderlint.proof.counting import Count, count
from orderlint.proof.narrowing import Narrowing, apply, meet, narrowings_of
from orderlint.proof.prover import Proof, Prover, Result, decide
from orderlint.proof.set_difference import DifferingOrder, NewlyBroken, SetDifference, difference_of
from orderlint.proof.set_membership import DRUG_NAME, TEXTS, allows, equivalence_key
from orderlint.proof.space import Disagreement, Limits, Picks

__all__ = [
    "DRUG_NAME",
    "TEXTS",
    "CertificateRefused",
    "Choices",
    "Count",
    "Counterexample",
    "DifferingOrder",
    "Disagreement",
    "Limits",
    "Narrowing",
    "NeverSound",
    "NewlyBroken",
    "Pick",
    "Picks",
    "Proof",
    "Prover",
    "Result",
    "SectionChoice",
    "SetDifference",
    "allows",
    "apply",
    "certificate",
    "choices_of",
    "count",
    "counterexample_of",
    "decide",
    "difference_of",
    "equivalence_key",
    "meet",
    "narrowings_of",
    "recheck",
]
