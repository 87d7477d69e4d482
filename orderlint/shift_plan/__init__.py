"""A verified order and a start → what is due when, volumes, bags and figures, over some hours.

Computes only what the order lets it, and says of the rest why not. Never a layout, never a guess.
"""

from orderlint.shift_plan.build import plan_of
from orderlint.shift_plan.model import Plan

__all__ = ["Plan", "plan_of"]
