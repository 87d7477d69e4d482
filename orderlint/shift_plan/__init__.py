"""Plans some hours of a verified order: what is due when, volumes, bags and estimates.

Computes only what the order allows, and says why the rest is missing. Never a layout, never a
guess.
"""

from orderlint.shift_plan.build import plan_of
from orderlint.shift_plan.model import Plan

__all__ = ["Plan", "plan_of"]
