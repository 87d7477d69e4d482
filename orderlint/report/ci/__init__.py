"""What programs of a pipeline read: SARIF, JUnit XML, a line a finding. One shape before all three.

Never a format's words in another's module.
"""
