"""A verified order and a start → what is due when, volumes, bags and figures, over some hours.

Computes only what the order lets it, and says of the rest why not. Never a layout, never a guess.
"""

from orderlint.plan.parts import Plan
from orderlint.plan.planning import plan_of

__all__ = ["Plan", "plan_of"]
