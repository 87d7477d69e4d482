"""What was verified → text and JSON. Decides nothing.

Wording, layout and format belong here. Never a rule, a file or an exit status.
"""
