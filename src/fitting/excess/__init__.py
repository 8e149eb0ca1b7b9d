"""The fit of the learned excess Gibbs energy; not part of the wheel.

Run from `src`: `python -m fitting.excess` refits the shipped tables with the standard deviations in
`prior.csv` and `noise.csv`; `python -m fitting.excess prior` learns those first; `python -m
fitting.excess figures` prints what the fit is worth on what it did not see. Tables that may not be
passed on are read from the directory in the environment variable BLENDWRIGHT_REFERENCE.
"""
