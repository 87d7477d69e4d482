"""The message to one person, as text, page and JSON.

Never chooses what is asked: that is `orderlint.message`.
"""
