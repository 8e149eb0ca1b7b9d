"""Will the crystals go, and at what temperature does the last one?

A solid is in equilibrium with the liquid where ln(x_i gamma_i) equals its fusion term. For the
whole blend with everything dissolved, each solid i has the temperature T_i at which its activity
just fits; the last crystal goes at the highest T_i. Below T_i that solid is over-saturated.

The interval of T_i takes every complete parameter set, the error of the heat of fusion, and
LN_GAMMA_SPREAD on the activity; the melting point's own error is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from blendwright.estimate import Estimate
from blendwright.mixture.activity import ActivityModel
from blendwright.mixture.composition import Composition
from blendwright.mixture.vapour import solve_rising
from blendwright.pure.fusion import Fusion

LN_GAMMA_SPREAD = 0.5  # 90 %, about a factor 1.6 in solubility
ANALOGUE_LN_GAMMA_SPREAD = 1.2  # groups of a similar molecule
LOWEST_K = 233.15  # -40 °C; below it the answer is "at or below"


@dataclass(frozen=True)
class Saturation:
    """One solid: the temperature where it just dissolves in the finished blend."""

    index: int
    name: str
    temperature: Estimate


@dataclass(frozen=True)
class Dissolution:
    """The last crystal's temperature and every solid's own."""

    last: Estimate
    solids: tuple[Saturation, ...]


def crystallises(fusion: Fusion | None, temperature_K: float) -> bool:
    """True for what is a solid by itself at this temperature."""
    return fusion is not None and (fusion.melting.value or 0.0) > temperature_K


def _saturation_K(
    model: ActivityModel,
    composition: Composition,
    index: int,
    melt: Fusion,
    ln_shift: float = 0.0,
) -> float:
    """T where ideal activity equals x gamma exp(ln_shift); never above the melting point."""
    x = composition.mole_fractions
    ln_x = math.log(float(x[index]))
    melting = melt.melting.interval()[0]

    def undersaturation(t: float) -> float:
        ln_gamma = float(model.ln_gamma(x, t)[index])
        return melt.ln_ideal_activity(t) - (ln_x + ln_gamma + ln_shift)

    found = solve_rising(undersaturation, min(300.0, melting), LOWEST_K, melting)
    if found is None:
        return melting if undersaturation(melting) < 0.0 else LOWEST_K
    return found


def dissolution(composition: Composition, solid_below_K: float) -> Dissolution:
    """The temperatures at which the solids of this blend dissolve.

    A substance counts as a solid when it melts above `solid_below_K` (K). "not_applicable" where
    there is none, "unknown" where no parameter set is complete.
    """
    solids = [
        (i, s)
        for i, s in enumerate(composition.substances)
        if crystallises(s.fusion, solid_below_K) and s.name not in composition.liquid_as_sold
    ]
    if not solids:
        return Dissolution(
            Estimate.absent("K", "not_applicable", "nothing in it is a solid by itself"), ()
        )
    voices = composition.ensemble.voices("solid")
    if not voices:
        reason = "no parameter set covers every group pair in this blend"
        return Dissolution(Estimate.unknown("K", reason), ())
    saturations: list[Saturation] = []
    for i, s in solids:
        melt = s.fusion
        assert melt is not None
        values = [_saturation_K(v.model, composition, i, melt) for v in voices]
        lead = voices[0].model
        spread = ANALOGUE_LN_GAMMA_SPREAD if s.material.is_analogue else LN_GAMMA_SPREAD
        heat = melt.heat.interval()
        edges = [
            _saturation_K(lead, composition, i, melt, -spread),
            _saturation_K(lead, composition, i, melt, spread),
            *(
                _saturation_K(lead, composition, i, replace(melt, heat=_exactly(h, melt.heat)))
                for h in heat[1:]
            ),
        ]
        notes = list(melt.heat.notes)
        if s.material.is_analogue:
            notes.append(f"{s.name}: {s.material.groups_assigned_by}")
        if values[0] <= LOWEST_K:
            notes.append("at or below -40 °C")
        estimate = Estimate.ok(
            values[0],
            min(*values, *edges),
            max(*values, *edges),
            "K",
            f"solid-liquid equilibrium with {voices[0].title}",
            (*(v.source for v in voices), *melt.melting.sources, *melt.heat.sources),
            notes,
        )
        saturations.append(Saturation(i, s.name, estimate))
    last = max(saturations, key=lambda s: s.temperature.interval()[0])
    high = max(s.temperature.interval()[2] for s in saturations)
    estimate = replace(last.temperature, high=high).with_notes(f"the last to go: {last.name}")
    return Dissolution(estimate, tuple(saturations))


def _exactly(value: float, like: Estimate) -> Estimate:
    return replace(like, value=value, low=value, high=value)
