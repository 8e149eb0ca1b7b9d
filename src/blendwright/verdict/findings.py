"""What the person should know of a blend: every finding, the gravest first.

The words and thresholds stand in `verdict`; here they meet the numbers.
"""

from __future__ import annotations

import numpy as np

from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate
from blendwright.mixture.answers import SEEN_SHARE
from blendwright.mixture.evaporation import Exposure, OpenBeaker, evaporate
from blendwright.mixture.storage import (
    GAS_LIMIT_K,
    ClosedBottle,
    adr_fill_limit,
    liquid_full_at_55C,
    pressure_in_bottle,
    vapour_pressure_at_50C,
    volume_shares,
)
from blendwright.verdict import MOST_NAMES, Finding, gravest_first, listed
from blendwright.verdict.blend import FREEZER_K, FRIDGE_K, Blend
from blendwright.verdict.contributions import contributions
from blendwright.verdict.crystal_forms import crystal_form_findings
from blendwright.verdict.evaporation import Loss, STIRRED_s, evaporation_findings
from blendwright.verdict.fire import OneFire, fire_findings
from blendwright.verdict.plastics import contacts
from blendwright.verdict.reactions import reaction_findings
from blendwright.verdict.storage import cool_findings, fill_findings, plastic_findings
from blendwright.verdict.words import (
    WARMING_MARGIN_K,
    CrystalsBack,
    OneLiquid,
    cold_findings,
    dissolution_findings,
    liquid_findings,
)

DRIVER_PCT = 10.0  # a row with less of the flammability is not named as driving it
MOST_DRIVERS = 3
LAYER_NAMES = 2


def findings_of(blend: Blend) -> list[Finding]:
    """All findings, the gravest first, otherwise in the order of the bench's questions."""
    solids = tuple(s.name for s in blend.dissolved.solids)
    found = [
        *dissolution_findings(blend.window, solids),
        *_cold_findings(blend),
        *liquid_findings(
            OneLiquid(
                blend.chance,
                blend.chance_in_fridge,
                blend.temperature_K,
                blend.cloud,
                layers_words(blend),
            )
        ),
        *_fire_findings(blend),
        *_evaporation_findings(blend),
        *_storage_findings(blend),
        *_reaction_findings(blend),
        *_input_findings(blend),
    ]
    return gravest_first(found)


def layers_words(blend: Blend) -> str:
    """Which layer would hold what, for a sentence; empty where the best estimate is one liquid."""
    parted = blend.layers
    if parted is None:
        return ""
    total_g = 1e3 * float(parted.top_kg.sum() + parted.bottom_kg.sum())
    parts = []
    for place, mass_kg in (("top", parted.top_kg), ("bottom", parted.bottom_kg)):
        order = np.argsort(-mass_kg)[:LAYER_NAMES]
        names = " and ".join(blend.blend.names[i] for i in order if mass_kg[i] > 0.0)
        share = 1e3 * float(mass_kg.sum()) / total_g
        parts.append(f"{place} {share:.0%} mostly {names}")
    return ": by weight " + ", ".join(parts)


def crystals_back(blend: Blend, temperature_K: float) -> CrystalsBack:
    """What lies as crystals at a temperature, in grams, the most first."""
    found = blend.crystals_at(temperature_K)
    if found is None:
        return CrystalsBack(temperature_K, ())
    rows = [
        (name, float(v * m) * 1e3, float(h * m) * 1e3)
        for name, v, h, m in zip(found.names, found.value, found.high, found.mass_kg, strict=True)
        if h > SEEN_SHARE
    ]
    return CrystalsBack(temperature_K, tuple(sorted(rows, key=lambda row: (-row[1], -row[2]))))


def _cold_findings(blend: Blend) -> list[Finding]:
    if blend.dissolution_word != "dissolves":
        return []
    back = [crystals_back(blend, kelvin) for kelvin in (FRIDGE_K, FREEZER_K)]
    named = {name for at in back for name, _, _ in at.grams}
    named |= {s.name for s in blend.dissolved.solids if s.temperature.interval()[2] > FRIDGE_K}
    return [*cold_findings(back, blend.temperature_K), *crystal_form_findings(named)]


def top_rows(blend: Blend) -> tuple[str, ...]:
    """The rows that make it flash."""
    ranked = sorted(contributions(blend), key=lambda c: -c.flammability_pct)
    return tuple(c.material for c in ranked if c.flammability_pct >= DRIVER_PCT)[:MOST_DRIVERS]


def _fire_findings(blend: Blend) -> list[Finding]:
    drivers = top_rows(blend) or tuple(blend.blind)
    burning = [s for s in blend.blend.substances if s.flash.value is not None]
    lowest = None
    if not blend.blind and burning:
        lowest = min(burning, key=lambda s: s.flash.interval()[0])
    return fire_findings(
        OneFire(
            blend.flash.estimate,
            blend.classings[0],
            blend.temperature_K,
            _needed_K(blend),
            drivers,
            lowest.flash if lowest is not None else None,
            lowest.name if lowest is not None else "",
        )
    )


def _needed_K(blend: Blend) -> float | None:
    """What the last crystals need by the best estimate; None where they need no warming."""
    if blend.dissolution_word != "needs_warming":
        return None
    return blend.last_crystal.interval()[0] + WARMING_MARGIN_K


def _evaporation_findings(blend: Blend) -> list[Finding]:
    if blend.headspace is None:
        return []
    exposure = Exposure(OpenBeaker(), blend.temperature_K, blend.pressure_Pa)
    try:
        gone = evaporate(blend.blend, exposure, STIRRED_s, points=1)
    except NotConvergedError:
        return []
    lost_g = blend.blend.row_shares(gone.lost_kg) * 1e3
    losses = [
        Loss(row.label, float(grams), float(grams) / row.grams)
        for row, grams in zip(blend.weighing.rows, lost_g, strict=True)
        if not row.material.is_water
    ]
    return evaporation_findings(losses)


def _storage_findings(blend: Blend) -> list[Finding]:
    bottle = ClosedBottle(closed_at_Pa=blend.pressure_Pa)
    if blend.headspace is None:
        vapour = Estimate.unknown("Pa", "its vapour pressure is unknown")
    else:
        vapour = vapour_pressure_at_50C(blend.blend)
    return [
        *fill_findings(
            adr_fill_limit(blend.whole),
            liquid_full_at_55C(blend.whole),
            vapour,
            pressure_in_bottle(blend.whole, bottle, GAS_LIMIT_K, vapour),
            bottle.fill,
            bottle.closed_at_Pa,
        ),
        *plastic_findings(contacts(volume_shares(blend.whole))),
        *cool_findings(blend.flash.estimate, top_rows(blend) or tuple(blend.blind)),
    ]


def _reaction_findings(blend: Blend) -> list[Finding]:
    shares = blend.whole.mass_fractions.tolist()
    return reaction_findings(
        (s.material, share) for s, share in zip(blend.whole.substances, shares, strict=True)
    )


def _input_findings(blend: Blend) -> list[Finding]:
    found = []
    if blend.left_out:
        names = tuple(dict.fromkeys(out.material for out in blend.left_out))
        share = blend.mass_share(s for s in blend.whole.substances if s.name in names)
        first, more = blend.left_out[:MOST_NAMES], len(blend.left_out) - MOST_NAMES
        found.append(
            Finding(
                "LEFT-OUT",
                "warning" if blend.blind else "caution",
                f"{share:.1%} of the mass can't be counted everywhere: "
                + "; ".join(f"{o.material} from {o.left_from} ({o.why})" for o in first)
                + (f"; and {more} more." if more > 0 else "."),
                "Read the answers with that in mind; a measured value settles it.",
                names,
            )
        )
    uncurated = tuple(
        dict.fromkeys(s.name for s in blend.whole.substances if not s.material.curated)
    )
    if uncurated:
        found.append(
            Finding(
                "NOT-CURATED",
                "caution",
                f"Not in the curated catalogue, taken unchecked from a library: "
                f"{listed(uncurated)}.",
                "Check the name, and the supplier's data sheet.",
                uncurated,
            )
        )
    summed = blend.weighing.summed
    if summed:
        found.append(
            Finding(
                "ROWS-SUMMED",
                "info",
                f"Rows of one material were added up: {listed(summed)}.",
                "Check that the second row isn't a slip.",
                summed,
            )
        )
    return found
