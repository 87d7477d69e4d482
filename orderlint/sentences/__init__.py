"""An order that comes as a prescriber's sentences, read clause by clause into a draft.

A clause is understood whole or not at all. Never what a free text of a written order mentions.
"""
