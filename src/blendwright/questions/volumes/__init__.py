"""Grams to millilitres, drops and bottles: scaling, rounding to a balance, filling, order of work."""
