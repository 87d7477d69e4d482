"""The pictures: an order on an axis of pressure, and a plan on a clock, as SVG or text.

Never the meaning of a setting: segments come from `orderlint.behaviour`.
"""
