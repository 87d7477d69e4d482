"""Policies: the values of the built-in one, and what a site policy changes in the rulebook."""
