"""Rebuilds the learned tables that the package ships; not part of the wheel.

Run from `src`: `python -m fitting.learned_tables` (models of blends), `python -m
fitting.structure_regressions` (properties from structure).
"""
