"""Proofs over every order that a set can yield: each rule proved, or the order that breaks it.

Joins the rulebook's conditions and a set's options. Never a file, never a word of a report.
"""

from orderlint.proof.certificates import CertificateRefused, certificate, recheck
from orderlint.proof.choices import Choices, NeverSound, choices_of
from orderlint.proof.counterexample import Counterexample, Pick, Taking, counterexample_of
from orderlint.proof.counting import Count, count
from orderlint.proof.narrowing import Narrowing, apply, meet, narrowings_of
from orderlint.proof.prover import Proof, Prover, Result, decide
from orderlint.proof.set_difference import Comparison, Example, NewlyBroken, compare
from orderlint.proof.set_membership import TEXTS, offers, same
from orderlint.proof.space import Disagreement, Limits, Picks

__all__ = [
    "TEXTS",
    "CertificateRefused",
    "Choices",
    "Comparison",
    "Count",
    "Counterexample",
    "Disagreement",
    "Example",
    "Limits",
    "Narrowing",
    "NeverSound",
    "NewlyBroken",
    "Pick",
    "Picks",
    "Proof",
    "Prover",
    "Result",
    "Taking",
    "apply",
    "certificate",
    "choices_of",
    "compare",
    "count",
    "counterexample_of",
    "decide",
    "meet",
    "narrowings_of",
    "offers",
    "recheck",
    "same",
]
