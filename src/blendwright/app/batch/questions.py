"""What can be asked of many blends, and which estimates each question gives."""

from __future__ import annotations

from collections.abc import Mapping

QUESTIONS = ("density", "vapour", "boiling", "flash", "crystals", "layers", "cloud", "findings")
ESTIMATES: Mapping[str, tuple[str, ...]] = {
    "density": ("density_g_mL", "volume_mL"),
    "vapour": ("vapour_pressure_kPa", "lower_flammable_limit_vol_pct"),
    "boiling": ("initial_boiling_point_C",),
    "flash": ("flash_point_closed_cup_C",),
    "crystals": ("dissolved_share", "dissolution_temperature_C"),
    "cloud": ("cloud_temperature_C",),
}
