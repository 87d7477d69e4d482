"""What other programs call: one module a room, one function a verb, one result for all.

Turns what a caller holds into what a room reads, and wraps what comes back. Never a check or a
sentence of its own. `orderlint.verify` and its fellows are the public names.
"""
