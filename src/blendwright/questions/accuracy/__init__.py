"""How far the numbers can be trusted: every question against published measurements.

One module a question holds its evaluation; `figures` turns errors into a table; `fit` writes the
small learned tables that the models read. Nothing here is needed to assess a formula.
"""
