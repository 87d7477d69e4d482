"""Rule and policy files → a frozen rulebook: loaded, checked, expanded, lowered.

Never an order, and never the words of a finding filled in.
"""
