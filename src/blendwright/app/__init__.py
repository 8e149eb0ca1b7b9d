"""Who asks: the commands (`cli`), the page in a browser (`web`), lists of formulas (`batch`), the
person's settings and the check of an installation.

Nothing here computes an answer or words a finding.
"""
