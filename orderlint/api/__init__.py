"""The Python interface: a function for each verb, one class for all results.

Reads what the caller gives, calls the modules below, and wraps what they return. Never a check or
a sentence of its own. `orderlint.verify` and the other functions are the public names.
"""
