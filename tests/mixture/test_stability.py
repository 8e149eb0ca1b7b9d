"""No split is missed: the stability test against a dense search, on two hundred random blends."""

from __future__ import annotations

import numpy as np
import pytest

from blendwright.catalogue import default_catalogue
from blendwright.mixture.activity import activity_model
from blendwright.mixture.liquid_split import stability
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array

MATERIALS = (
    "ethyl acetate", "ethyl butyrate", "isoamyl acetate", "limonene", "linalool", "benzaldehyde",
    "eugenol", "gamma-decalactone", "decanal", "propylene glycol", "water", "ethanol",
    "triacetin", "triethyl citrate", "glycerol", "tricaprylin", "benzyl alcohol", "menthol",
)  # fmt: skip
BLENDS = 200
TRIALS = 4000
REFINEMENTS = 60


def dense_search(model, x: Array, kelvin: float, seed: np.random.Generator) -> float:  # type: ignore[no-untyped-def]
    """The lowest tangent-plane distance among thousands of compositions, the best ones refined by
    shrinking random steps. It shares nothing with successive substitution."""
    n = len(x)
    d = np.log(x) + model.ln_gamma(x, kelvin)

    def distance(w: Array) -> Array:
        return np.asarray((w * (np.log(w) + model.ln_gamma(w, kelvin) - d)).sum(axis=1))

    def clean(w: Array) -> Array:
        w = np.maximum(w, 1e-12)
        return np.asarray(w / w.sum(axis=1, keepdims=True))

    wide = seed.dirichlet(np.full(n, 0.25), size=TRIALS)
    corners = 0.97 * np.eye(n) + 0.03 * x
    trials = clean(np.vstack([wide, corners, 0.5 * corners + 0.5 * x]))
    found = distance(trials)
    best = trials[np.argsort(found)[:8]]
    step = 0.3
    for _ in range(REFINEMENTS):
        moved = np.repeat(best, 12, axis=0)
        moved = clean(moved * np.exp(step * seed.standard_normal(moved.shape)))
        both = np.vstack([best, moved])
        best = both[np.argsort(distance(both))[:8]]
        step *= 0.9
    return float(distance(best).min())


@pytest.mark.parametrize("name", ["unifac2", "dortmund2"])
def test_no_split_is_missed_on_two_hundred_random_blends(name: str) -> None:
    rule, catalogue = PARAMETER_SETS[name], default_catalogue()
    seed = np.random.default_rng(20261125)
    missed, splits = [], 0
    for _ in range(BLENDS):
        size = int(seed.integers(2, 7))
        chosen = [str(m) for m in seed.choice(MATERIALS, size=size, replace=False)]
        model = activity_model(rule, [catalogue.find(m).groups[rule.groups_of] for m in chosen])
        x = np.maximum(seed.dirichlet(np.full(size, 0.6)), 1e-6)
        x /= x.sum()
        kelvin = float(seed.uniform(263.0, 343.0))
        lowest = dense_search(model, x, kelvin, seed)
        found = stability(model, x, kelvin)
        splits += found.splits
        if lowest < -1e-6 and not found.splits:
            missed.append((chosen, x, kelvin, lowest))
    assert missed == []
    assert 40 < splits < 180  # both kinds are well represented
