"""The message to ask one person, for a breath, a screen or a program.

Never chooses what is asked: that is `orderlint.message`.
"""
