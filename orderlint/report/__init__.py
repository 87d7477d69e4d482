"""Turns what was verified into text, pages, pictures and JSON. Decides nothing.

Wording, layout and format belong here. Never a rule, a file or an exit status.
"""
