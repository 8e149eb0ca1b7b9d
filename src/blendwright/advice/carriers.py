"""The same aromatics in other carriers, side by side.

The rows that are carriers (`editing.is_carrier`) are taken out and their weight is filled with the
other carrier or a mix of two; the aromatics keep their grams. Each is looked at in the fridge and
at the bench, as a fire, as a volume, and dosed into water.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from blendwright.blend import FRIDGE_K, Blend
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.conditions import ATMOSPHERE_Pa
from blendwright.editing import carriers_of, in_carriers
from blendwright.errors import FormulaError, Problem
from blendwright.estimate import Estimate
from blendwright.formula import Formula
from blendwright.formula.numbers import readings, why_no_number
from blendwright.mixture.clarity import clarity
from blendwright.mixture.composition import Composition, compose
from blendwright.verdict.words import LiquidWord, liquid_word
from blendwright.weighing import Weighing, weigh

SCHEMA = "blendwright/carriers/1"
BENCH_K = 295.15
USUAL: tuple[str, ...] = (
    "propylene glycol",
    "triacetin",
    "triethyl citrate",
    "ethanol",
    "glycerol",
    "MCT oil",
    "benzyl alcohol",
    "propylene glycol + triacetin",
    "propylene glycol + triethyl citrate",
    "propylene glycol + ethanol",
    "triacetin + ethanol",
)
DOSE_mL_L = 1.0  # two drops in 100 mL (common practice, no source)


@dataclass(frozen=True)
class InCarrier:
    """One carrier, or mix: what becomes of the aromatics in it. Unknown numbers are None."""

    carrier: str
    now: bool
    cold: LiquidWord
    cold_chance: float | None
    cold_crystals_g: float | None
    bench: LiquidWord
    bench_chance: float | None
    bench_crystals_g: float | None
    dissolves: Estimate
    flash: Estimate
    category: str
    density: Estimate
    in_water: LiquidWord

    def to_dict(self) -> dict[str, object]:
        return {
            "carrier": self.carrier,
            "as_written": self.now,
            "at_4C": {
                "liquid": self.cold,
                "chance_of_layers": self.cold_chance,
                "crystals_g": self.cold_crystals_g,
            },
            "at_22C": {
                "liquid": self.bench,
                "chance_of_layers": self.bench_chance,
                "crystals_g": self.bench_crystals_g,
            },
            "dissolution_temperature_C": self.dissolves.to_dict(),
            "flash_point_C": self.flash.to_dict(),
            "ghs_category": self.category,
            "density_g_mL": self.density.to_dict(),
            "two_drops_in_100_mL_of_water": self.in_water,
        }


def compare_carriers(
    formula: Formula,
    carriers: Sequence[str] = USUAL,
    *,
    catalogue: Catalogue | None = None,
) -> tuple[InCarrier, ...]:
    """The formula as it is, then its aromatics in each carrier ("a" or "a + b", "a 70 + b 30").

    Raises FormulaError for a formula or a carrier that can't be read, or one without aromatics.
    """
    catalogue = catalogue or default_catalogue()
    weighing = weigh(formula, catalogue)
    own = carriers_of(weighing)
    if len(own) == len(weighing.rows):
        raise FormulaError(formula.name, [Problem("there is nothing in it but carriers")])
    made = [_looked_at("as written", weighing, True)]
    if not own:
        return tuple(made)
    for text in carriers:
        shares = parse_carriers(text)
        names = [name for name, _ in shares]
        if len(own) == len(shares) == 1 and own[0].material.name == names[0]:
            continue
        made.append(_looked_at(text, in_carriers(weighing, shares, catalogue), False))
    return tuple(made)


def parse_carriers(text: str) -> list[tuple[str, float]]:
    """ "a", "a + b" (halves) or "a 70 + b 30" (parts by weight).

    >>> parse_carriers("propylene glycol 70 + triacetin 30")
    [('propylene glycol', 70.0), ('triacetin', 30.0)]
    """
    found = []
    for part in text.split("+"):
        words = part.strip().rsplit(" ", 1)
        written = words[-1].rstrip("%")
        values = readings(written) if len(words) == 2 else ()
        if len(values) > 1:
            raise FormulaError("carriers", [Problem(why_no_number(written))])
        share, name = (values[0], words[0]) if values else (1.0, part.strip())
        if not name or share <= 0.0:
            raise FormulaError("carriers", [Problem(f"{text!r} is no carrier or mix of carriers")])
        found.append((name, share))
    return found


def _looked_at(name: str, weighing: Weighing, now: bool) -> InCarrier:
    blend = Blend(weighing, BENCH_K, ATMOSPHERE_Pa)
    cold = blend.chance_of_split(FRIDGE_K)
    return InCarrier(
        carrier=name,
        now=now,
        cold=liquid_word(cold),
        cold_chance=cold,
        cold_crystals_g=_crystals_g(blend, FRIDGE_K),
        bench=blend.liquid_word,
        bench_chance=blend.chance,
        bench_crystals_g=_crystals_g(blend, BENCH_K),
        dissolves=blend.last_crystal,
        flash=blend.flash.estimate,
        category=blend.classings[0].category,
        density=blend.density,
        in_water=liquid_word(_chance_in_water(weighing, blend)),
    )


def _crystals_g(blend: Blend, temperature_K: float) -> float | None:
    found = blend.crystals_at(temperature_K)
    return float((found.value * found.mass_kg).sum()) * 1e3 if found is not None else None


def _chance_in_water(weighing: Weighing, blend: Blend) -> float | None:
    """The chance of haze of the usual tasting dose in a litre of water."""
    density = blend.density.value
    if density is None or blend.without_groups:
        return None
    mixed = diluted(weighing.composition, DOSE_mL_L * 1e-6 * density)
    found = clarity(mixed, BENCH_K) if mixed is not None else None
    return found.chance_of_split if found is not None else None


def diluted(composition: Composition, dose_kg: float, water_kg: float = 0.997) -> Composition:
    """So much of a blend in so much water."""
    water = default_catalogue().material("water")
    factor = dose_kg / float(composition.mass_kg.sum())
    parts = [
        (s.material, float(m) * factor, 0)
        for s, m in zip(composition.substances, composition.mass_kg, strict=True)
    ]
    return compose([*parts, (water, water_kg, 1)])
