"""The codes of every blend's findings, gravest first: `findings.findings_of` without the sentences.

Each code's condition is that of the module of `verdict` named beside it; a severity of zero means
that there is no such finding. The words are made only by `assess`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.formula.conditions import BENCH_K, ROOM_K
from blendwright.mixture.block import Block
from blendwright.mixture.density import densities
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import Bools
from blendwright.mixture.storage import (
    ADR_COLD_K,
    ADR_WARM_K,
    EXPANSION_SPREAD,
    GAS_LIMIT_K,
    LIQUID_FULL_K,
    USUAL_FILL,
    UNKNOWN_DENSITY_kg_m3,
)
from blendwright.verdict import fire, plastics, reactions, storage
from blendwright.verdict.rule import CAUTION, INFO, SEVERITY, WARNING, Coded, when


def joined(found: Sequence[Coded]) -> tuple[NDArray[Any], Bools]:
    """The codes of each blend in one text, gravest first, and whether a warning is among them."""
    names = [code for code, _ in found]
    table = np.array([severity for _, severity in found]).T
    distinct, back = np.unique(table, axis=0, return_inverse=True)
    texts = np.empty(len(distinct), dtype=object)
    for i, row in enumerate(distinct.tolist()):
        ranked = sorted((k for k, s in enumerate(row) if s), key=lambda k: -row[k])
        texts[i] = ";".join(names[k] for k in ranked)
    return texts[back.reshape(-1)], np.asarray((table == WARNING).any(axis=1))


def fill_codes(block: Block, vapour_Pa: Array, vapour_high_Pa: Array, air_Pa: float) -> list[Coded]:
    """`verdict.storage.fill_findings`; the vapour pressure at 50 °C, NaN where unknown."""
    cold, warm, filled, full, at_limit = (
        densities(block.pairs, kelvin).value
        for kelvin in (ADR_COLD_K, ADR_WARM_K, BENCH_K, LIQUID_FULL_K, GAS_LIMIT_K)
    )
    known = np.isfinite(cold) & np.isfinite(warm) & np.isfinite(filled) & np.isfinite(full)
    ratio = filled / at_limit
    half = EXPANSION_SPREAD * np.abs(ratio - 1.0)
    warmed = air_Pa * GAS_LIMIT_K / BENCH_K * (1.0 - USUAL_FILL)
    room = 1.0 - USUAL_FILL * ratio
    with np.errstate(invalid="ignore", divide="ignore"):
        told = np.isfinite(ratio) & np.isfinite(vapour_Pa)
        bursts = told & (1.0 - USUAL_FILL * (ratio + half) <= 0.0)
        gauge = warmed / room + vapour_Pa - air_Pa
        gas = vapour_high_Pa > storage.UN_GAS_Pa
        pressed = vapour_high_Pa > storage.PACKAGING_Pa
        bottle = told & ~bursts & (gauge > storage.BOTTLE_GAUGE_Pa)
    pressure = np.where(
        gas, WARNING, np.where(pressed | bottle, CAUTION, np.where(bursts, WARNING, 0))
    )
    return [
        ("FILL-LIMIT", when(known, INFO)),
        ("FILL-UNKNOWN", when(~known, CAUTION)),
        ("PRESSURE-WARM", pressure),
    ]


def plastic_codes(block: Block) -> list[Coded]:
    """`verdict.plastics.contacts` and `verdict.storage.plastic_findings`."""
    own = block.substances
    table = plastics.hansen_parameters("substance")
    known = np.array([name in table for name in own.names])
    values = np.array(
        [
            (table[n].dD, table[n].dP, table[n].dH) if n in table else (0.0, 0.0, 0.0)
            for n in own.names
        ]
    )
    density, _ = own.densities(ROOM_K)
    density = np.where(np.isnan(density), UNKNOWN_DENSITY_kg_m3, density)
    volume = block.pair_kg / density[block.pair_sub]
    share = volume / block.per_blend(volume)[block.pair_blend]
    counted = share * known[block.pair_sub]
    total = block.per_blend(counted)
    some = total >= plastics.ATTACKER_SHARE
    divisor = np.where(some, total, 1.0)
    mean = [block.per_blend(counted * values[block.pair_sub, k]) / divisor for k in range(3)]
    attacked = np.zeros(block.size, dtype=bool)
    spared = np.zeros(block.size, dtype=bool)
    for polymer in plastics.hansen_parameters("polymer").values():
        if polymer.radius is None:
            continue
        by_mean = _distance(mean, polymer) / polymer.radius < plastics.ATTACKS_BELOW_RED
        alone = known & (
            _distance(list(values.T), polymer) / polymer.radius < plastics.ATTACKS_BELOW_RED
        )
        by_part = block.per_blend(counted * alone[block.pair_sub]) >= plastics.ATTACKER_SHARE
        attacked |= by_mean | by_part
        spared |= ~(by_mean | by_part)
    attacked &= some
    unknown = ~some | (1.0 - total > storage.MOST_NOT_COUNTED)
    return [
        ("PLASTIC-ATTACK", when(attacked, CAUTION)),
        ("PLASTIC-UNKNOWN", when(unknown, CAUTION)),
        ("PLASTIC-NO-ATTACK", when(~unknown & spared, INFO)),
    ]


def _distance(values: Sequence[Array], polymer: plastics.Hansen) -> Array:
    d, p, h = values
    return np.sqrt(4.0 * (d - polymer.dD) ** 2 + (p - polymer.dP) ** 2 + (h - polymer.dH) ** 2)


def cool_codes(low_K: Array, status: NDArray[Any]) -> list[Coded]:
    """`verdict.storage.cool_findings`."""
    ok = status == "ok"
    with np.errstate(invalid="ignore"):
        sparks = ok & (low_K - fire.FLASH_MARGIN_MIXTURE_K <= storage.FRIDGE_K)
        cool = ok & ~sparks & (low_K <= storage.WARM_PLACE_K)
    return [
        ("FRIDGE-SPARKS", when(sparks | (status == "unknown"), CAUTION)),
        ("KEEP-COOL", when(cool, CAUTION)),
    ]


def reaction_codes(block: Block) -> list[Coded]:
    """`verdict.reactions`: a kind is told where a group and its partner weigh enough."""
    groups = [reactions.reactive_groups(s.material) for s in block.substances.pures]
    share, sub, blend = block.pair_mass_share, block.pair_sub, block.pair_blend
    there = {
        word: np.array([g is not None and belongs(g) for g in groups])[sub]
        for word, belongs in reactions.MEMBERS.items()
    }
    weight = {word: block.per_blend(share * members) for word, members in there.items()}
    other_alcohols = weight["any alcohol"] - weight["ethanol"]
    trade = other_alcohols[blend] >= reactions.NOTABLE
    trade |= there["ester of another alcohol"] | there["lactone"]
    codes: list[Coded] = []
    for code, kind in reactions.KINDS.items():
        told = np.zeros(block.size, dtype=bool)
        first = np.zeros(len(sub), dtype=bool)
        for fact in reactions.facts():
            if fact.code != code:
                continue
            reactive = there[fact.first]
            if code == "ESTER-EXCHANGE":
                reactive = reactive & trade
            enough = weight[fact.second] >= kind.least_second
            enough &= block.per_blend(share * reactive) >= kind.least_first
            first |= reactive & enough[blend]
            told |= enough
        notable = block.per_blend(share * first) >= reactions.NOTABLE
        severity = np.where(notable, CAUTION, INFO)
        if kind.severity is not None:
            severity = np.full(block.size, SEVERITY[kind.severity])
        codes.append((code, severity * told))
    hidden = block.mass_share_of(np.array([g is None for g in groups]))
    unknown = hidden >= reactions.LEAST_UNKNOWN
    return [*codes, ("REACTIONS-UNKNOWN", when(unknown, CAUTION))]


def input_codes(block: Block, blind: Bools) -> list[Coded]:
    """What was left out, not curated, or summed."""
    pures = block.substances.pures
    left = np.array(
        [not s.groups or s.vapour is None or s.flash.status == "unknown" for s in pures]
    )
    uncurated = np.array([not s.material.curated for s in pures])
    left_out = block.per_blend(left[block.pair_sub]) > 0.0
    return [
        ("LEFT-OUT", np.where(left_out, np.where(blind, WARNING, CAUTION), 0)),
        ("NOT-CURATED", when(block.per_blend(uncurated[block.pair_sub]) > 0.0, CAUTION)),
        ("ROWS-SUMMED", when(block.summed, INFO)),
    ]
