"""The report on one verified order. Other reports use its words and blocks.

Never judges.
"""
