"""Two orders or two order sets beside each other.

Never finds a difference: that is `orderlint.comparison`.
"""
