"""Inverse questions: which carrier, what to change, by how much.

Every answer is found with the same models that assess a formula and is checked by a fresh
assessment. No physics of its own, and nothing is printed here.
"""
