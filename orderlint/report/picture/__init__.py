"""The pressure axis and a plan's hours: what there is to draw, where it stands, then SVG or text.

Never a setting's meaning: segments come from `orderlint.behaviour`.
"""
