"""All that the mixture needs of one substance, gathered once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from blendwright.catalogue.material import Material
from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate
from blendwright.pure.flammable_limit import lower_flammable_limit, upper_flammable_limit
from blendwright.pure.flash_point import flash_point
from blendwright.pure.fusion import Fusion, fusion
from blendwright.pure.vapour_pressure import VapourPressure, vapour_pressure

HEAVY_FLASH_K = 366.15  # 93 °C, the end of GHS category 4
HEAVY_BOILING_K = 473.15


@dataclass(frozen=True)
class PureConstants:
    """Vapour pressure, fusion, flash point and flammable limits of one substance."""

    material: Material
    vapour: VapourPressure | None
    fusion: Fusion | None
    flash: Estimate
    lower_limit: Estimate
    upper_limit: Estimate

    @property
    def name(self) -> str:
        return self.material.name

    @property
    def groups(self) -> Mapping[str, Mapping[int, int]]:
        return self.material.groups

    @property
    def is_heavy(self) -> bool:
        """Too heavy to lower a flash point: leaving it out only raises the share of the others."""
        if self.flash.value is None or self.vapour is None:
            return False
        try:
            boiling_K = self.vapour.boiling_K()
        except NotConvergedError:
            return False
        return self.flash.value >= HEAVY_FLASH_K and boiling_K >= HEAVY_BOILING_K


@lru_cache(maxsize=4096)
def pure_constants(material: Material) -> PureConstants:
    """Choose every constant of a substance by the rules of this package."""
    vapour = vapour_pressure(material)
    return PureConstants(
        material=material,
        vapour=vapour,
        fusion=fusion(material),
        flash=flash_point(material, vapour),
        lower_limit=lower_flammable_limit(material),
        upper_limit=upper_flammable_limit(material),
    )
