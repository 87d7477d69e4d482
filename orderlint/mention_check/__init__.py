"""Free texts beside the settings: what differs is asked about, what is not understood is listed.

Never a text alone: `mentions` finds what it mentions, and `sentences` reads its clauses.
"""
