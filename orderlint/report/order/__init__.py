"""One verified order: verdict, findings, behaviour. Other reports borrow these words.

Never judges.
"""
