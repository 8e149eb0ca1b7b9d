"""How much of one substance does water alone take at 25 °C?

The liquid's solubility, in mol/m3 of solution; a crystal counts as the liquid it would melt to
(its own solubility divided by its ideal activity), so that it can be told apart from a layer.

Rule: the median of accepted values, published or from memory. Without one, the saturated solution
of the pair with water by the liquid model (`liquid`); its draws give the standard deviation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.catalogue.material import Material, sources_of
from blendwright.catalogue.origins import chosen_words
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.liquid import SOURCES, TITLE, Liquid, LiquidAt
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Substances
from blendwright.pure.boiling_point import published_first
from blendwright.pure.constants import pure_constants
from blendwright.pure.density import liquid_density
from blendwright.pure.fusion import fusion

WATER_mol_m3 = 55345.0  # 997.05 kg/m3 at 25 °C over 18.015 g/mol (IAPWS-95)
MEASURED_LOG10_SD = 0.15  # common between compilations that agree (common practice, no source)
ITERATIONS = 300
CONVERGED = 1e-10
ONE_LIQUID = 1e-4
LN_10 = math.log(10.0)


@dataclass(frozen=True)
class WaterSolubility:
    """Solubility of the liquid at 25 °C: `mol_m3` is infinite for what mixes with water.

    `log10_sd` is the standard deviation of its decadic logarithm.
    """

    mol_m3: float
    log10_sd: float
    method: str
    sources: tuple[str, ...]


@lru_cache(maxsize=4096)
def water_solubility(material: Material) -> WaterSolubility | None:
    """None where neither an accepted value nor groups are at hand."""
    published = published_first(material.accepted("water_solubility"))
    if not published:
        return estimated_water_solubility(material)
    logs = [math.log10(d.value / material.molar_mass_kg_mol) for d in published]
    log10 = float(np.median(logs))
    sd = max(MEASURED_LOG10_SD, float(np.std(logs)))
    melt = fusion(material)
    if melt is not None and (melt.melting.value or 0.0) > ROOM_K:
        log10 -= melt.ln_ideal_activity(ROOM_K) / LN_10
    return WaterSolubility(10.0**log10, sd, chosen_words(published), sources_of(published))


def estimated_water_solubility(material: Material) -> WaterSolubility | None:
    """By the liquid model alone, whatever was measured."""
    water = default_catalogue().material("water")
    pures = (pure_constants(material), pure_constants(water))
    if not pures[0].groups or material.is_water:
        return None
    substances = Substances.of(pures)
    two = np.zeros((1, 2))
    index = np.arange(2)[None, :]
    part = Part(np.zeros(1, int), index, two + 1.0, two + 1.0, two > 1.0, index)
    liquid = Liquid(substances, part.index)
    found = _saturated(liquid.at(ROOM_K))
    if found is None:
        sd = float(
            np.std(liquid.draw_shifts(np.array([[0.0, 1.0]]), np.array([[1.0, 0.0]]), ROOM_K))
        )
        return WaterSolubility(math.inf, sd / LN_10, f"mixes with water by {TITLE}", SOURCES)
    in_water, own = (np.array([[x, 1.0 - x]]) for x in found)
    one = np.array([[1.0, 0.0]])
    shifts = liquid.draw_shifts(in_water, one, ROOM_K) - liquid.draw_shifts(own, one, ROOM_K)
    sd = float(np.sqrt((shifts**2).mean())) / LN_10
    volume = found[0] * molar_volume_m3(material) + (1.0 - found[0]) / WATER_mol_m3
    return WaterSolubility(found[0] / volume, sd, f"mutual solubility by {TITLE}", SOURCES)


def molar_volume_m3(material: Material) -> float:
    """Molar volume of the liquid at 25 °C, m3/mol; a middling density where none is known."""
    density = liquid_density(material, ROOM_K).value or 950.0
    return material.molar_mass_kg_mol / density


def _saturated(model: LiquidAt) -> tuple[float, float] | None:
    """Mole fraction of the first component in the second's (water's) layer and in its own; None
    where they mix.

    Successive substitution of both compositions, from the two pure liquids.
    """
    in_water, water_in = 1e-6, 1e-2
    for _ in range(ITERATIONS):
        x = np.array([[in_water, 1.0 - in_water], [1.0 - water_in, water_in]])
        gamma = np.exp(np.clip(model.ln_gamma(x[None])[0], -60.0, 60.0))
        # K_i = x_i(water layer) / x_i(oil layer) = gamma_i(oil) / gamma_i(water layer)
        k_solute, k_water = gamma[1] / gamma[0]
        if k_water <= 1.0 or k_solute >= 1.0:
            return None
        new_water_in = (1.0 - k_solute) / (k_water - k_solute)
        new_in_water = k_solute * (1.0 - new_water_in)
        change = abs(math.log(new_in_water / in_water)) + abs(new_water_in - water_in)
        in_water, water_in = new_in_water, new_water_in
        if abs(1.0 - water_in - in_water) < ONE_LIQUID:
            return None
        if change < CONVERGED:
            break
    return in_water, 1.0 - water_in
