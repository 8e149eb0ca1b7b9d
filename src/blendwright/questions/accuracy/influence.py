"""Which answers does the doubt about one material move most?

The material is put at 5 % by mass into propylene glycol and assessed; then each chosen value is
moved to the low end of its interval, and what that does to density, vapour pressure, flash point
and dissolution is told, the largest move first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from blendwright.catalogue import Material
from blendwright.estimate import Estimate
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.density import blend_density
from blendwright.mixture.dissolution import dissolution
from blendwright.mixture.flash_point import blend_flash_point
from blendwright.mixture.vapour import headspace
from blendwright.pure.constants import PureConstants
from blendwright.pure.density import liquid_density

SHARE = 0.05


@dataclass(frozen=True)
class Influence:
    """How far one answer moves when one value of the material goes to its interval's low end."""

    value: str
    answer: str
    change: float
    unit: str
    relative: float  # the change over the answer's own 90 % half-width


def influences(material: Material, carrier: Material) -> list[Influence]:
    """The influences of a substance's doubts at 5 % in a carrier, largest first."""
    if not material.groups or not carrier.groups or material.name == carrier.name:
        return []
    plain = compose([(material, SHARE, 0), (carrier, 1.0 - SHARE, 0)])
    own = plain.substances[0]
    found: list[Influence] = []

    def look(
        value: str,
        moved: PureConstants,
        answer: str,
        unit: str,
        ask: Callable[[Composition], Estimate],
    ) -> None:
        before = ask(plain)
        after = ask(Composition((moved, *plain.substances[1:]), plain.by_row))
        if before.value is None or before.low is None or after.value is None:
            return
        change = after.value - before.value
        half = max(before.value - before.low, 1e-12)
        found.append(Influence(value, answer, change, unit, abs(change) / half))

    if own.flash.is_ok:
        lower = own.flash.interval()[1]
        flash = replace(own.flash, value=lower, low=lower, high=lower)
        look("flash point", replace(own, flash=flash), "flash point", "K", _flash)
    if own.vapour is not None:
        lower_curve = replace(own.vapour, ln_shift=-own.vapour.ln_uncertainty_at(ROOM_K))
        shifted = replace(own, vapour=lower_curve)
        look("vapour pressure", shifted, "vapour pressure", "Pa", _vapour)
    if own.fusion is not None and (own.fusion.melting.value or 0.0) > ROOM_K:
        heat = own.fusion.heat.interval()[1]
        melt = replace(own.fusion, heat=replace(own.fusion.heat, value=heat, low=heat, high=heat))
        look("heat of fusion", replace(own, fusion=melt), "dissolution", "K", _dissolution)
    density = liquid_density(material, ROOM_K)
    if density.is_ok:
        value, low, _ = density.interval()
        blend = blend_density(plain, ROOM_K)
        if blend.is_ok:
            share = SHARE / value * blend.interval()[0]
            change = (low - value) / value * share * blend.interval()[0]
            half = blend.interval()[0] - blend.interval()[1]
            found.append(Influence("density", "density", change, "kg/m3", abs(change) / half))
    return sorted(found, key=lambda item: -item.relative)


def _flash(blend: Composition) -> Estimate:
    return blend_flash_point(blend).estimate


def _vapour(blend: Composition) -> Estimate:
    found = headspace(blend, ROOM_K)
    return found.total if found is not None else Estimate.unknown("Pa", "no vapour")


def _dissolution(blend: Composition) -> Estimate:
    return dissolution(blend, ROOM_K).last


def phrases(found: Sequence[Influence]) -> list[str]:
    """One line each, in the units that people read."""
    lines = []
    for item in found:
        change, unit = item.change, item.unit
        if unit == "K":
            unit = "°C"
        elif unit == "kg/m3":
            change, unit = change / 1e3, "g/mL"
        lines.append(f"its {item.value} at the low end moves {item.answer} by {change:+.2g} {unit}")
    return lines
