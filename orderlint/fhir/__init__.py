"""Orders and order sets as resources of FHIR R4, read and written.

Never a library of FHIR, and never a verdict: the readers and rules of orders and sets judge.
"""
