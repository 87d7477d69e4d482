"""The bedside double check: prompts, differences, and the sheet to keep.

Never shows an ordered value before the last entry.
"""
