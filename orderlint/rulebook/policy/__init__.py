"""A site policy: its values, levels and suppressions, and the built-in policy beneath it.

What a policy file may say and what it changes in the rulebook. Never a rule's condition.
"""
