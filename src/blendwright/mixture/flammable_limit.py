"""How little of this blend's vapour in air can burn, how much still can, and where the vapour over
the blend stands against that?

Le Chatelier: 1 / L = sum y_i / L_i over the flammable part of the headspace, each L_i at the
temperature (Zabetakis 1965); the same with the upper limits. The saturated vapour over the blend
stands to the lower limit as

    ratio(T) = sum (p_i / P) / L_i(T)

which is 1 at the temperature where a closed headspace at equilibrium just begins to burn: a check
beside the flash point, which is measured and lies a few degrees from it.
"""

from __future__ import annotations

import math

import numpy as np

from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.composition import Composition
from blendwright.mixture.interval import Interval
from blendwright.mixture.liquid import NO_GROUPS
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Substances
from blendwright.mixture.vapour import (
    HIGHEST_K,
    LOWEST_K,
    Headspace,
    headspace,
    ln_slopes_per_K,
    partial_pressures_Pa,
    shares_of,
)
from blendwright.pure.flammable_limit import at_temperature, upper_at_temperature
from blendwright.pure.roots import temperatures_where_zero

WEIGHTY_SHARE = 0.05  # of the burning vapour: more without an upper limit, and it is unknown
SLOPE_STEP_K = 0.5


def lower_limits(
    substances: Substances, part: Part, pressures_Pa: Array, temperature_K: float
) -> Interval:
    """Find the lower flammable limit of each blend's headspace.

    Parameters
    ----------
    substances : Substances
        The list that `part.index` numbers.
    part : Part
        Blends, arrays (blends, components).
    pressures_Pa : array (blends, components)
    temperature_K : float

    Returns
    -------
    Interval
        Mole fraction in air; "unknown" where the pressures are.

    References
    ----------
    .. [1] H. Le Chatelier (1891), Ann. Mines 19, 388
    .. [2] M. G. Zabetakis (1965), US Bureau of Mines Bulletin 627
    """
    has_limit, limits, ln_errors = substances.lower_limit
    limits, ln_errors = limits[part.index], ln_errors[part.index]
    p = np.where(has_limit[part.index] & part.there, pressures_Pa, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = shares_of(p) / (limits * at_temperature(1.0, temperature_K))
        summed = terms.sum(axis=1)
        half = np.sqrt(((terms * ln_errors) ** 2).sum(axis=1)) / summed
        value = 1.0 / summed
    status = np.where(p.sum(axis=1) > 0.0, "ok", "not_applicable").astype(object)
    status[np.isnan(pressures_Pa).any(axis=1)] = "unknown"
    return Interval.of(value, value * np.exp(-half), value * np.exp(half), status)


def blend_lower_limit(
    composition: Composition, pressures_Pa: Array, temperature_K: float
) -> Estimate:
    """Find the lower flammable limit of the headspace.

    Parameters
    ----------
    composition : Composition
        One blend.
    pressures_Pa : array (components,)
        Partial pressures in the headspace.
    temperature_K : float

    Returns
    -------
    Estimate
        Mole fraction in air.

    References
    ----------
    .. [1] H. Le Chatelier (1891), Ann. Mines 19, 388
    .. [2] M. G. Zabetakis (1965), US Bureau of Mines Bulletin 627
    """
    found = lower_limits(composition.table, composition.part, pressures_Pa[None], temperature_K)
    if not found.is_ok[0]:
        return found.not_ok("mol/mol", "vapour", "nothing in the vapour burns")
    counted = [
        s
        for s, p in zip(composition.substances, pressures_Pa, strict=True)
        if p > 0.0 and s.lower_limit.is_ok
    ]
    return Estimate.ok(
        *found.ends(),
        "mol/mol",
        "Le Chatelier over the headspace",
        ("le-chatelier", "zabetakis", *(x for s in counted for x in s.lower_limit.sources)),
    )


def blend_upper_limit(
    composition: Composition, pressures_Pa: Array, temperature_K: float
) -> Estimate:
    """Find the upper flammable limit of the headspace.

    A vapour above it is no safe one: air comes in.

    Parameters
    ----------
    composition : Composition
        One blend.
    pressures_Pa : array (components,)
        Partial pressures in the headspace.
    temperature_K : float

    Returns
    -------
    Estimate
        Mole fraction in air; "unknown" where substances without a published one make more than
        WEIGHTY_SHARE of the burning vapour. A smaller share is left out and named.

    References
    ----------
    .. [1] H. Le Chatelier (1891), Ann. Mines 19, 388
    .. [2] M. G. Zabetakis (1965), US Bureau of Mines Bulletin 627
    """
    burning = [s.upper_limit.status != "not_applicable" for s in composition.substances]
    shares = np.where(burning, pressures_Pa, 0.0)
    if not shares.sum() > 0.0:
        return Estimate.absent("mol/mol", "not_applicable", "nothing in the vapour burns")
    shares = shares / shares.sum()
    known = np.array([s.upper_limit.is_ok for s in composition.substances])
    unknown = [
        s.name
        for s, share, k in zip(composition.substances, shares, known, strict=True)
        if not k and share > 0.0
    ]
    if float(shares[~known].sum()) > WEIGHTY_SHARE:
        order = np.argsort(-shares)
        worst = [composition.names[i] for i in order if not known[i]]
        return Estimate.unknown("mol/mol", f"no upper flammable limit of {worst[0]}")
    shares = np.where(known, shares, 0.0)
    shares = shares / shares.sum()
    terms, low_terms, high_terms = 0.0, 0.0, 0.0
    sources: list[str] = ["le-chatelier", "zabetakis"]
    for s, share in zip(composition.substances, shares, strict=True):
        if share <= 0.0:
            continue
        value, low, high = (
            upper_at_temperature(v, temperature_K) for v in s.upper_limit.interval()
        )
        terms += share / value
        low_terms += share / low
        high_terms += share / high
        sources.extend(s.upper_limit.sources)
    return Estimate.ok(
        1.0 / float(terms),
        1.0 / float(low_terms),
        1.0 / float(high_terms),
        "mol/mol",
        "Le Chatelier over the headspace",
        sources,
        [f"left out for want of an upper limit: {', '.join(unknown)}"] if unknown else [],
    )


def limit_ratio(
    composition: Composition, pressures_Pa: Array, temperature_K: float, pressure_Pa: float
) -> float:
    """Divide the vapour by its own lower limit (Le Chatelier's sum): 1 at the limit.

    Parameters
    ----------
    composition : Composition
        One blend.
    pressures_Pa : array (components,)
    temperature_K : float
    pressure_Pa : float
        The air's.

    Returns
    -------
    float
        A substance that burns and has no lower limit is left out: the caller must name it.
    """
    return float(
        sum(
            p / pressure_Pa / at_temperature(s.lower_limit.interval()[0], temperature_K)
            for s, p in zip(composition.substances, pressures_Pa, strict=True)
            if s.lower_limit.is_ok
        )
    )


def headspace_over_limit(
    composition: Composition,
    space: Headspace,
    temperature_K: float,
    pressure_Pa: float = ATMOSPHERE_Pa,
) -> Estimate:
    """Divide the saturated headspace by its lower flammable limit; above 1 it can burn.

    Parameters
    ----------
    composition : Composition
        One blend.
    space : Headspace
        At that temperature.
    temperature_K : float
    pressure_Pa : float
        The air's.

    Returns
    -------
    Estimate
        A ratio; the errors of the vapour pressure and of the limit in quadrature, as logarithms.
    """
    if not space.total.is_ok:
        return Estimate.unknown("ratio", "; ".join(space.total.notes))
    limit = blend_lower_limit(composition, space.pressures_Pa, temperature_K)
    if not limit.is_ok:
        return Estimate.absent("ratio", limit.status, "; ".join(limit.notes))
    unknown = [s.name for s in composition.substances if s.lower_limit.status == "unknown"]
    if unknown:
        return Estimate.unknown("ratio", f"no lower flammable limit of {', '.join(unknown)}")
    value = limit_ratio(composition, space.pressures_Pa, temperature_K, pressure_Pa)
    total, low, high = space.total.interval()
    own = math.log(limit.interval()[0] / limit.interval()[1])
    return Estimate.ok(
        value,
        value * math.exp(-math.hypot(math.log(total / low), own)),
        value * math.exp(math.hypot(math.log(high / total), own)),
        "ratio",
        "saturated headspace over its lower flammable limit",
        (*limit.sources, *space.total.sources),
    )


def lower_limit_temperature(
    composition: Composition, pressure_Pa: float = ATMOSPHERE_Pa
) -> Estimate:
    """Find where the saturated headspace reaches the lower limit: a cross-check of the flash point.

    Parameters
    ----------
    composition : Composition
        One blend.
    pressure_Pa : float
        The air's.

    Returns
    -------
    Estimate
        K; its interval is that of the ratio there over its slope.
    """
    unknown = [
        s.name
        for s in composition.substances
        if s.lower_limit.status == "unknown" or s.vapour is None
    ]
    if unknown:
        reason = f"no lower flammable limit or vapour pressure of {', '.join(unknown)}"
        return Estimate.unknown("K", reason)
    if not any(s.lower_limit.is_ok for s in composition.substances):
        return Estimate.absent("K", "not_applicable", "nothing in the vapour burns")
    if not composition.is_covered:
        return Estimate.unknown("K", NO_GROUPS)

    def ln_ratio(temperature_K: float) -> float:
        p = partial_pressures_Pa(composition, temperature_K)
        return math.log(limit_ratio(composition, p, temperature_K, pressure_Pa))

    try:
        found = temperatures_where_zero(
            lambda kelvin, _: np.array([ln_ratio(float(kelvin[0]))]),
            np.array([ROOM_K]),
            LOWEST_K,
            HIGHEST_K,
        )
        if not found.crosses[0]:
            reason = "the headspace never reaches its lower limit"
            return Estimate.absent("K", "out_of_range", reason)
        if not found.converged[0]:
            raise NotConvergedError("temperature")
        value = float(found.root[0])
        ends = ln_ratio(value - SLOPE_STEP_K), ln_ratio(value + SLOPE_STEP_K)
    except NotConvergedError as error:
        return Estimate.unknown("K", str(error))
    space = headspace(composition, value)
    assert space is not None  # the model covers it
    there = headspace_over_limit(composition, space, value, pressure_Pa)
    if not there.is_ok:
        return Estimate.unknown("K", "; ".join(there.notes))
    _, low, high = there.interval()
    slope = (ends[1] - ends[0]) / (2.0 * SLOPE_STEP_K)
    if not slope > 0.0:  # the liquid changes between the two: of the pure substances instead
        shares = space.pressures_Pa / space.pressures_Pa.sum()
        slope = float(shares @ ln_slopes_per_K(composition, value))
    return Estimate.ok(
        value,
        value - max(0.0, math.log(high)) / slope,
        value - min(0.0, math.log(low)) / slope,
        "K",
        "saturated headspace at its lower flammable limit (Le Chatelier)",
        there.sources,
    )
