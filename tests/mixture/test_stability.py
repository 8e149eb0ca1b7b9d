"""No split is missed: the stability test against a dense search, on two hundred random blends."""

from __future__ import annotations

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.mixture.composition import compose
from blendwright.mixture.liquid import Liquid, LiquidAt
from blendwright.mixture.liquid_split import PLAIN
from blendwright.mixture.parameter_sets import Array

MATERIALS = (
    "ethyl acetate", "ethyl butyrate", "isoamyl acetate", "limonene", "linalool", "benzaldehyde",
    "eugenol", "gamma-decalactone", "decanal", "propylene glycol", "water", "ethanol",
    "triacetin", "triethyl citrate", "glycerol", "tricaprylin", "benzyl alcohol", "menthol",
)  # fmt: skip
BLENDS = 200
TRIALS = 4000
REFINEMENTS = 60


def dense_search(model: LiquidAt, x: Array, seed: np.random.Generator) -> float:
    """The lowest tangent-plane distance among thousands of compositions, the best ones refined by
    shrinking random steps. It shares nothing with successive substitution."""
    n = len(x)
    d = np.log(x) + model.ln_gamma(x[None, None, :])[0, 0]

    def distance(w: Array) -> Array:
        return np.asarray((w * (np.log(w) + model.ln_gamma(w[None])[0] - d)).sum(axis=1))

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


def test_no_split_is_missed_on_two_hundred_random_blends() -> None:
    catalogue = default_catalogue()
    seed = np.random.default_rng(20261125)
    missed, splits = [], 0
    for _ in range(BLENDS):
        size = int(seed.integers(2, 7))
        chosen = [str(m) for m in seed.choice(MATERIALS, size=size, replace=False)]
        moles = np.maximum(seed.dirichlet(np.full(size, 0.6)), 1e-6)
        blend = compose(
            [
                (m, n * m.molar_mass_kg_mol, 0)
                for m, n in zip(map(catalogue.find, chosen), moles, strict=True)
            ]
        )
        kelvin = float(seed.uniform(263.0, 343.0))
        model = Liquid(blend.table, blend.part.index).at(kelvin)
        lowest = dense_search(model, blend.part.x[0], seed)
        found = PLAIN.stabilities(model, blend.part.x)
        splits += bool(found.unstable[0])
        if lowest < -1e-6 and not found.unstable[0]:
            missed.append((chosen, moles, kelvin, lowest))
    assert missed == []
    assert 40 < splits < 180  # both kinds are well represented
