"""What the blend does: activity, density, vapour, flash point, dissolution, liquid split.

Arrays of mole fractions go in; SI numbers and estimates come out. Nothing here knows of formulas,
files, verdict words or screens.
"""
