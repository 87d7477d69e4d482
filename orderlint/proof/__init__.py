"""Proofs over every order that an order set can yield, each found in two ways that must agree.

Questions and answers as data. Never a file, never a word of a report.
"""

from orderlint.proof.counterexample import Counterexample, Pick, Taking, counterexample_of
from orderlint.proof.deciding import LIMITS, Proof, Prover, Result, decide, prover_of
from orderlint.proof.space import Disagreement, Limits, Picks

__all__ = [
    "LIMITS",
    "Counterexample",
    "Disagreement",
    "Limits",
    "Pick",
    "Picks",
    "Proof",
    "Prover",
    "Result",
    "Taking",
    "counterexample_of",
    "decide",
    "prover_of",
]
