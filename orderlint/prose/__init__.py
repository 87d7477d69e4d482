"""The settings and acts that a free text names: where, with which number, and under what condition.

Listed words and exact numbers. Never what a whole sentence means, and never a verdict.
"""
