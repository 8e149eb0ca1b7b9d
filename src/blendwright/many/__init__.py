"""Many blends at once: the assessment's numbers as columns, one place per blend.

`columns` of a sequence of weighings is all that the batch asks for.
"""
