"""The bedside double-check: prompts, what differs, the sheet to keep.

Never shows an ordered value before the last entry.
"""
