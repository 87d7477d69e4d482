"""Mentions of settings and acts in a free text: where, with which number, under what condition.

Listed words and exact numbers. Never what a whole sentence means, and never a verdict.
"""
