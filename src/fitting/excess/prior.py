"""Standard deviations of the effects to start from; `fit.learn_prior` improves them."""

from __future__ import annotations

from fitting.excess.design import NAMES

START = {
    "class pair": 0.39, "class": 0.2, "substance and class": 0.3, "substance": 0.2, "groups": 0.37,
    "preferred set": 0.5, "preferred set of class pair": 0.5, "water groups": 1.0,
    "pair": 0.04, "disagreement": 0.3, "water pair": 0.4, "d": 0.6,
    "slope": 0.6, "water slope": 0.3, "a shared": 0.4, "a hydroxylic class": 0.4,
    "a other class": 0.3, "a class pair": 0.4, "a pair": 0.2, "a slope": 0.5,
    "fusion": 0.25, "fusion shared": 0.2,
    "t shared": 1.0, "t cosolvent class": 0.5, "t cosolvent": 3.0, "t kind of oil": 4.0,
    "t oil class": 1.0, "t oil": 1.2, "t pair": 0.5, "t slope": 0.5,
    "u shared": 5.0, "u cosolvent class": 2.0, "u cosolvent": 6.0, "u kind of oil": 6.0,
    "u oil class": 2.0, "u oil": 3.0, "u pair": 2.0, "u slope": 0.3,
}  # fmt: skip
assert set(START) == set(NAMES)
