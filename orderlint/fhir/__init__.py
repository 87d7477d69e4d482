"""Orders as resources of FHIR R4: a Bundle read into an order, and what only the Bundle can show.

Never a library of FHIR, and never a verdict: the order's own reader and rules judge what is read.
"""
