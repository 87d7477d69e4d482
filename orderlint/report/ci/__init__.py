"""Reports that programs read: SARIF, JUnit XML, OperationOutcome, Markdown, lines and baselines,
all made from the one model in model.py.

A module has strings of its own format only.
"""
