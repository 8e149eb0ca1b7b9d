"""The columns of one `Blend`, for what the block's own table can't say: adjusted by observations.

Numbers are in the units at the edge (°C, kPa, g/mL, mL, %, vol %), NaN where there is none; the
status says why.
"""

from __future__ import annotations

from collections.abc import Callable
from math import nan

from blendwright.estimate import Estimate
from blendwright.verdict.blend import Blend
from blendwright.verdict.findings import findings_of


def _told(name: str, estimate: Estimate) -> dict[str, object]:
    edge = estimate.at_the_edge()
    value, low, high = edge.interval() if edge.is_ok else (nan, nan, nan)
    return {
        name: value,
        f"{name}_low": low,
        f"{name}_high": high,
        f"{name}_status": edge.status,
    }


def _density(blend: Blend) -> dict[str, object]:
    return {
        **_told("density_g_mL", blend.density),
        **_told("volume_mL", blend.volume),
    }


def _vapour(blend: Blend) -> dict[str, object]:
    return {
        **_told("vapour_pressure_kPa", blend.vapour_pressure),
        **_told("lower_flammable_limit_vol_pct", blend.lower_limit),
    }


def _boiling(blend: Blend) -> dict[str, object]:
    return _told("initial_boiling_point_C", blend.boiling)


def _flash(blend: Blend) -> dict[str, object]:
    ghs = blend.classings[0]
    return {
        **_told("flash_point_closed_cup_C", blend.flash.estimate),
        "ghs_category": ghs.category,
        "ghs_standing": ghs.standing,
        "ghs_treat_as": ghs.treat_as,
    }


def _crystals(blend: Blend) -> dict[str, object]:
    return {
        **_told("dissolved_share", blend.dissolved_share),
        **_told("dissolution_temperature_C", blend.last_crystal),
        "dissolution": blend.dissolution_word,
    }


def _layers(blend: Blend) -> dict[str, object]:
    chance = blend.chance
    return {"chance_of_layers": nan if chance is None else chance, "liquid": blend.liquid_word}


def _cloud(blend: Blend) -> dict[str, object]:
    return _told("cloud_temperature_C", blend.cloud)


def _findings(blend: Blend) -> dict[str, object]:
    found = findings_of(blend)
    return {
        "findings": ";".join(finding.code for finding in found),
        "has_warning": any(finding.severity == "warning" for finding in found),
    }


QUESTIONS: dict[str, Callable[[Blend], dict[str, object]]] = {
    "density": _density,
    "vapour": _vapour,
    "boiling": _boiling,
    "flash": _flash,
    "crystals": _crystals,
    "layers": _layers,
    "cloud": _cloud,
    "findings": _findings,
}
