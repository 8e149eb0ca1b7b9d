"""One set of aromatics in other carriers, side by side.

The rows that are carriers (`editing.is_carrier`) are taken out and their weight is filled with the
other carrier or a mix of two; the aromatics keep their grams. Each is looked at in the fridge and
at the bench, as a fire, as a volume, and dosed into water at 20 °C.

The person's own observations count as in `assess`, in the formula as written and in each carrier
that is like what was observed; in the water they don't, as no drink was observed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.errors import FormulaError, Problem
from blendwright.estimate import Estimate, to_celsius
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K, FRIDGE_K, ATMOSPHERE_Pa
from blendwright.formula.numbers import readings, why_no_number
from blendwright.mixture.drink import DrinkError, parse_drink
from blendwright.mixture.weighing import Weighing, weigh
from blendwright.observations.observation import Observation
from blendwright.observations.observed_blend import with_observations
from blendwright.questions.drink.finished_drink import FinishedDrink
from blendwright.questions.editing import carriers_of, in_carriers
from blendwright.verdict.blend import Blend
from blendwright.verdict.dissolution_and_layers import LiquidWord, liquid_word
from blendwright.verdict.dosing import DoseWord

SCHEMA = "blendwright/carriers/1"
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
    """One carrier, or mix: what becomes of the aromatics in it. Unknown numbers are None; `counted`
    are the person's own observations that moved them."""

    carrier: str
    now: bool
    bench_K: float
    cold: LiquidWord
    cold_chance: float | None
    cold_crystals_g: float | None
    bench: LiquidWord
    bench_chance: float | None
    bench_crystals_g: float | None
    dissolves: Estimate
    flash: Estimate
    category: str
    treat_as: str
    density: Estimate
    in_water: DoseWord
    counted: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, object]:
        return {
            "carrier": self.carrier,
            "as_written": self.now,
            "at_4C": {
                "liquid": self.cold,
                "chance_of_layers": self.cold_chance,
                "crystals_g": self.cold_crystals_g,
            },
            "at_bench": {
                "temperature_C": to_celsius(self.bench_K),
                "liquid": self.bench,
                "chance_of_layers": self.bench_chance,
                "crystals_g": self.bench_crystals_g,
            },
            "dissolution_temperature_C": self.dissolves.to_dict(),
            "flash_point_C": self.flash.to_dict(),
            "ghs_category": self.category,
            "ghs_treat_as": self.treat_as,
            "density_g_mL": self.density.to_dict(),
            "two_drops_in_100_mL_of_water": self.in_water,
            **({"observations": list(self.counted)} if self.counted else {}),
        }


def compare_carriers(
    formula: Formula,
    carriers: Sequence[str] = USUAL,
    bench_K: float = BENCH_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    *,
    catalogue: Catalogue | None = None,
    observations: Iterable[Observation] = (),
) -> tuple[InCarrier, ...]:
    """Put a formula's aromatics into several carriers, side by side.

    Parameters
    ----------
    formula : Formula
    carriers : sequence of str
        Each "a", "a + b" (halves) or "a 70 + b 30" (by mass).
    bench_K, pressure_Pa : float
        -40 to 150 °C, 10 to 120 kPa.
    catalogue : Catalogue, optional
        Where materials are found; the one that ships with blendwright unless given.
    observations : iterable of Observation
        The person's own (`read_observations`); none are read unless given.

    Returns
    -------
    tuple of InCarrier
        The formula as it is first, then its aromatics in each carrier.

    Raises
    ------
    FormulaError
        For a formula or a carrier that can't be read, or a formula without aromatics.
    """
    catalogue = catalogue or default_catalogue()
    weighing = weigh(formula, catalogue)
    own = carriers_of(weighing)
    if len(own) == len(weighing.rows):
        raise FormulaError(formula.name, [Problem("there is nothing in it but carriers")])
    seen = tuple(observations)

    def looked_at(name: str, weighed: Weighing) -> InCarrier:
        alone = Blend(weighed, bench_K, pressure_Pa)
        blend, compared = with_observations(alone, seen, catalogue)
        counted = tuple(one.words() for one in compared if not one.why_not)
        return replace(_in_carrier(name, blend, catalogue), counted=counted)

    made = [replace(looked_at("as written", weighing), now=True)]
    if not own:
        return tuple(made)
    for text in carriers:
        shares = parse_carriers(text)
        names = [name for name, _ in shares]
        if len(own) == len(shares) == 1 and own[0].material.name == names[0]:
            continue
        made.append(looked_at(text, in_carriers(weighing, shares, catalogue)))
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


def _in_carrier(name: str, blend: Blend, catalogue: Catalogue) -> InCarrier:
    cold = blend.chance_of_split(FRIDGE_K)
    return InCarrier(
        carrier=name,
        now=False,
        bench_K=blend.temperature_K,
        cold=liquid_word(cold),
        cold_chance=cold,
        cold_crystals_g=_crystals_g(blend, FRIDGE_K),
        bench=blend.liquid_word,
        bench_chance=blend.chance,
        bench_crystals_g=_crystals_g(blend, blend.temperature_K),
        dissolves=blend.last_crystal,
        flash=blend.flash.estimate,
        category=blend.classings[0].category,
        treat_as=blend.classings[0].treat_as,
        density=blend.density,
        in_water=_in_water(blend, catalogue),
    )


def _crystals_g(blend: Blend, temperature_K: float) -> float | None:
    found = blend.crystals_at(temperature_K)
    return float((found.value * found.mass_kg).sum()) * 1e3 if found is not None else None


def _in_water(blend: Blend, catalogue: Catalogue) -> DoseWord:
    """What `dose` says of the usual tasting dose in water."""
    try:
        density = blend.at_20C.density
        glass = FinishedDrink(blend.weighing, parse_drink("water"), BENCH_K, catalogue, density)
    except DrinkError:  # no density
        return "unknown"
    return glass.at(DOSE_mL_L * 1e-3).appearance.word
