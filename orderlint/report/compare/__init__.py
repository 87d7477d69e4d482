"""The comparison of two orders, or of two order sets, as text, page and JSON.

Never finds a difference: that is `orderlint.comparison`.
"""
