"""Rows of what is known to be one liquid: the carrier takes it, at these shares and well beyond.

A statement ("miscible", "soluble in 30 parts", a concentrate of the trade that is clear) says that
no other liquid lies below the tangent plane. It becomes a row only where the terms so far have one
nearer than SAFE_RT: then the distance to that liquid should be SAFE_RT, give or take SAFE_SD_RT. Found
anew with each round of the fit, as the saturation curves of `layers`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from blendwright.questions.accuracy.split import Fact, facts
from fitting.excess.layers import Learned, incipient
from fitting.excess.rows import Row, _row
from fitting.excess.systems import system

SAFE_RT = 0.06
SAFE_SD_RT = 0.03


def one_liquid_rows(
    learned: Learned, keep: Callable[[Fact], bool] = lambda fact: True
) -> list[Row]:
    """One a fact that the terms so far would break."""
    made = []
    for fact in facts():
        if fact.parts or fact.medium != "organic" or not keep(fact):
            continue
        many = system(tuple(s.material for s in fact.composition.substances))
        if many is None:
            continue
        x = np.array(fact.composition.mole_fractions)
        terms = learned.terms(many).at(fact.temperature_K).one(0)
        distance, w = incipient(many, terms, x, fact.temperature_K)
        if not np.isfinite(distance[0]) or distance[0] >= SAFE_RT:
            continue
        both = np.array([w[0], x])
        ln_a = np.log(np.maximum(both, 1e-12)) + many.ln_gamma(both, fact.temperature_K)
        jacobian = many.jacobian(both)
        made.append(
            _row(
                "one liquid",
                many,
                fact.temperature_K,
                SAFE_RT - float(w[0] @ (ln_a[0] - ln_a[1])),
                (jacobian[:, 0] - jacobian[:, 1]) @ w[0],
                noise=SAFE_SD_RT,
                details={"about": fact.about},
            )
        )
    return made
