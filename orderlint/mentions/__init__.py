"""Mentions of settings and acts in a free text: where, with which number, under what condition.

Listed words and exact numbers, word by word. Never what a whole clause or sentence means, and never
a verdict.
"""
