"""Reports that CI reads: SARIF, JUnit XML and lines, all made from the one model in results.py.

A module has strings of its own format only.
"""
