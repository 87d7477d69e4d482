"""A Questionnaire read as an order set, and an order set written as one.

Never a proof: the set's own reader and checks judge what is read.
"""
