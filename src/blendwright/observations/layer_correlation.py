"""How far do the model's errors about layers go together in two blends?

The model calls a blend split where D + e < 0: D is the tangent-plane distance of its incipient
phase w from its composition x, uncertain by the draws of the learned terms, and e the error of the
model's form (`mixture.clarity`), whose standard deviation grows with how far w and x are
apart. The draws' covariance of the two D is what the fit knows of both blends; the errors e go
together as the blends are alike (`similarity`):

    rho = (cov(D, D') + rho_alike s s') / sqrt((var D + s^2) (var D' + s'^2))

So what was seen of one blend counts in another by what their Gibbs energies share. With a look read
as a hidden normal number this conditions the fit on that look.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from blendwright.mixture.clarity import WATER_SHARE, distance_shifts, form_error_RT
from blendwright.mixture.composition import Composition
from blendwright.mixture.liquid import Liquid, search_for_layers
from blendwright.mixture.parameter_sets import Array

LEAST_VARIANCE = 1e-12


@dataclass(frozen=True, eq=False)
class Doubt:
    """About layers of one blend: how each draw moves D, and the standard deviation of e."""

    draws: Array
    form: float


def doubt(blend: Composition, temperature_K: float) -> Doubt | None:
    """None where the liquid model does not cover the blend or there is no incipient phase, and in
    watery blends, where log-linear cosolvency has its say, which has no draws."""
    return blend.once(("doubt of layers", temperature_K), lambda: _doubt(blend, temperature_K))


def _doubt(blend: Composition, temperature_K: float) -> Doubt | None:
    if not blend.is_covered or len(blend.substances) < 2 or _water(blend) > WATER_SHARE[0]:
        return None
    liquid, x = Liquid(blend.table, blend.part.index), blend.part.x
    found = search_for_layers().stabilities(liquid.at(temperature_K), x)
    if not (found.has_rival[0] and found.converged[0]):
        return None
    w = found.rival
    draws = distance_shifts(liquid, x, w, temperature_K)
    return Doubt(draws[0], float(form_error_RT(x, w)[0]))


def _water(blend: Composition) -> float:
    is_water = np.array([s.material.is_water for s in blend.substances])
    return float(blend.mass_fractions @ is_water)


def layer_correlation(there: Doubt | None, here: Doubt | None, alike: float) -> float:
    """rho from 0 to 1; `alike` where one of them is not known."""
    if there is None or here is None:
        return alike
    covariance = float((there.draws * here.draws).mean()) + alike * there.form * here.form
    size = [float((one.draws**2).mean()) + one.form**2 for one in (there, here)]
    rho = covariance / math.sqrt(max(size[0] * size[1], LEAST_VARIANCE))
    return min(max(rho, 0.0), 1.0)
