"""Turns what was verified into text, pages, pictures and JSON. Decides nothing.

Wording, layout and format belong here. Never a rule or an exit status; of files, only the rows
that an audit writes.
"""
