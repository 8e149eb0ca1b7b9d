"""Grams to millilitres, drops and bottles: scaling, rounding, filling, order of work."""
