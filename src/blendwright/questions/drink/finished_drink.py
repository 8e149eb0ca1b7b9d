"""The finished drink: a glass of it by all models, at any ratio of concentrate to drink.

It is one composition: the concentrate's substances, and the drink's water and ethanol. Sugar takes
room and dissolves nothing (`mixture.drink`); ethanol's help is log-linear cosolvency
(`mixture.cosolvency`). The chance of haze is that of `mixture.clarity`, crystals are those of
`mixture.dissolution`, one after the other: the liquid that the crystals leave may part.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue import Catalogue, Material
from blendwright.estimate import Estimate
from blendwright.formula.conditions import BENCH_K
from blendwright.mixture.answers import SEEN_SHARE
from blendwright.mixture.clarity import chance_of_haze, clarity
from blendwright.mixture.composition import Composition, compose, substances_of
from blendwright.mixture.cosolvency import cosolvents, loading
from blendwright.mixture.density import blend_density
from blendwright.mixture.dissolution import crystallises, crystals_of
from blendwright.mixture.drink import Drink, DrinkError, contents, sucrose_source
from blendwright.mixture.layers import two_layers
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.state import crystals
from blendwright.mixture.water_solubility import water_solubility
from blendwright.mixture.weighing import WeighedRow, Weighing
from blendwright.pure.constants import PureConstants
from blendwright.pure.roots import roots_between
from blendwright.verdict import listed
from blendwright.verdict.dissolution_and_layers import CLEAR_BELOW, SPLITS_ABOVE, SURELY_CLEAR_BELOW
from blendwright.verdict.dosing import Appearance, VISIBLE_kg_m3, two_digits

WATERY_SHARE = 0.05  # of the mass: from it on cosolvency tells what parts
SMALLEST_RATIO, LARGEST_RATIO = 1e-6, 1.0  # concentrate to drink, by volume
RATIOS = 19  # looked at on the way up, about a factor 2 apart
LN_TOLERANCE = 0.01  # of a ratio
FIRST_SHARE = 0.1  # of the oil's mass; what has less is not named
MOST_FIRST = 3


@dataclass(frozen=True)
class InDrink:
    """A row or a substance of the concentrate in the finished drink: how much of it there is, and
    how much of that parts as oil or stays as crystals by the best estimate."""

    name: str
    mg_kg: float
    oil_mg_L: float
    oil_pct: float
    crystals_pct: float

    def to_dict(self) -> dict[str, object]:
        return {
            "material": self.name,
            "mg_kg": self.mg_kg,
            "oil_mg_L": self.oil_mg_L,
            "oil_pct": self.oil_pct,
            "crystals_pct": self.crystals_pct,
        }


@dataclass(frozen=True)
class DrinkTotals:
    """The finished drink as a whole; `flavour_g_L` counts all of the concentrate."""

    flavour_g_L: float
    ethanol_pct_vol: float
    sugar_g_L: float
    density_kg_m3: float

    def to_dict(self) -> dict[str, object]:
        return {
            "flavour_g_L": self.flavour_g_L,
            "ethanol_pct_vol": self.ethanol_pct_vol,
            "sugar_g_L": self.sugar_g_L,
            "density_g_mL": self.density_kg_m3 / 1e3,
        }


@dataclass(frozen=True, eq=False)
class DoseResult:
    """One dose by all models. Arrays are per substance of the finished drink, kg."""

    composition: Composition
    appearance: Appearance
    oil_kg: Array
    crystals_kg: Array
    first_out: tuple[str, ...]
    sure_crystals: bool
    sources: tuple[str, ...]


class FinishedDrink:
    """One cubic metre of drink, and any ratio of concentrate (m3 to m3) to it."""

    def __init__(
        self,
        weighing: Weighing,
        drink: Drink,
        temperature_K: float,
        catalogue: Catalogue,
        density: Estimate | None = None,
    ) -> None:
        """`density` is the concentrate's at 20 °C (kg/m3), where more is known than the models."""
        self.weighing = weighing
        self.drink = drink
        self.temperature_K = temperature_K
        self.density = density or blend_density(weighing.composition, BENCH_K)
        self._water, self._ethanol = catalogue.material("water"), catalogue.material("ethanol")
        self._contents = contents(drink, self._water, self._ethanol)
        self._catalogue = catalogue
        self._seen: dict[float, DoseResult] = {}
        if not self.density.is_ok:
            raise DrinkError(
                f"the concentrate can't be measured out: {'; '.join(self.density.notes)}; give a "
                "density with --materials"
            )

    @cached_property
    def uncounted(self) -> tuple[str, ...]:
        """What no model can place in a drink."""
        return tuple(s.name for s in self.weighing.composition.substances if not self._counts(s))

    def _counts(self, substance: PureConstants) -> bool:
        """With groups; or with a published water solubility, where it is a liquid."""
        if substance.name == "water" or substance.name in cosolvents():
            return True
        if substance.groups:
            return water_solubility(substance.material) is not None
        solid = crystallises(substance.fusion, self.temperature_K)
        solid = solid or substance.material.state_20C == "solid"
        return not solid and water_solubility(substance.material) is not None

    @property
    def sugar_sources(self) -> tuple[str, ...]:
        return (sucrose_source(),) if self.drink.sugar_pct_mass > 0.0 else ()

    def _concentrate_kg(self, ratio: float) -> float:
        return ratio * self.density.interval()[0]

    def whole(self, ratio: float) -> Composition:
        """The finished drink without its sugar; the drink is the last row."""
        scale = self._concentrate_kg(ratio) / (self.weighing.total_g / 1e3)
        parts = [
            (substance, row.grams / 1e3 * fraction * scale, number)
            for number, row in enumerate(self.weighing.rows)
            for substance, fraction in row.substances
        ]
        last = len(self.weighing.rows)
        parts += [
            (self._water, self._contents.water_kg, last),
            (self._ethanol, self._contents.ethanol_kg, last),
        ]
        return compose(parts, self.weighing.composition.liquid_as_sold)

    def at(self, ratio: float) -> DoseResult:
        if ratio not in self._seen:
            self._seen[ratio] = self._look(ratio)
        return self._seen[ratio]

    def _look(self, ratio: float) -> DoseResult:
        counted = self.whole(ratio).only(self._counts)
        (least, stay, perhaps), crystal_sources = self._crystals(counted)
        left = counted.times(1.0 - np.where(stay > SEEN_SHARE, stay, 0.0))
        found = clarity(left, self.temperature_K)
        any_oil = found.chance_of_split if found is not None else None
        haze = None
        if any_oil is not None:
            haze = chance_of_haze(left, self.temperature_K, any_oil, VISIBLE_kg_m3 * (1.0 + ratio))
        oil_kg = self._oil_kg(left, any_oil)
        appearance = Appearance(
            haze,
            float(oil_kg.sum()) / (1.0 + ratio),
            self._floats(left, oil_kg, ratio),
            _names(counted, stay > SEEN_SHARE),
            _names(counted, perhaps > SEEN_SHARE),
            any_oil,
        )
        if self.uncounted and appearance.word in ("clear", "trace", "may_cloud"):
            appearance = Appearance(
                None, appearance.oil_kg_m3, appearance.floats, (), appearance.perhaps_crystals
            )
        sources = (*(found.sources if found else ()), *crystal_sources)
        held = loading(left, self.temperature_K)
        if held is not None:
            sources += held.sources
        return DoseResult(
            counted,
            appearance,
            _spread(counted, left, oil_kg),
            counted.mass_kg * np.where(stay > SEEN_SHARE, stay, 0.0),
            self._first_out(left, oil_kg),
            bool((least > SEEN_SHARE).any()),
            sources,
        )

    def _crystals(self, counted: Composition) -> tuple[Array, tuple[str, ...]]:
        """Shares that stay as crystals: at least, by the best estimate, at most (3, substances).
        What has no groups counts as a liquid."""
        shares = np.zeros((3, len(counted.names)))
        modelled = counted.only(lambda s: bool(s.groups))
        if not modelled.substances:
            return shares, ()
        share, _ = crystals(modelled.table, modelled.part, self.temperature_K)
        found = crystals_of(modelled, self.temperature_K, share[:, 0])
        place = [counted.names.index(name) for name in found.names]
        shares[:, place] = found.low, found.value, found.high
        return shares, found.sources if bool((found.high > SEEN_SHARE).any()) else ()

    def _oil_kg(self, left: Composition, chance: float | None) -> Array:
        """What parts by the best estimate: by cosolvency, or without water enough the layer that
        holds less of water and ethanol."""
        water = left.mass_fractions[np.array([name == "water" for name in left.names])]
        if water.sum() > WATERY_SHARE:
            held = loading(left, self.temperature_K)
            if held is None or held.ln_load <= 0.0:
                return np.zeros(len(left.names))
            return np.asarray(left.mass_kg * held.parted_mol_m3() / held.there_mol_m3)
        if chance is None or chance < CLEAR_BELOW:
            return np.zeros(len(left.names))
        parted = two_layers(left, self.temperature_K)
        if parted is None:
            return np.zeros(len(left.names))
        is_drink = np.array([name in ("water", "ethanol") for name in left.names])
        both = (parted.top_kg, parted.bottom_kg)
        return min(both, key=lambda kg: float(kg[is_drink].sum() / kg.sum()))

    def _floats(self, left: Composition, oil_kg: Array, ratio: float) -> bool | None:
        if not float(oil_kg.sum()) > 0.0:
            return None
        oil = blend_density(left.times(oil_kg / left.mass_kg), self.temperature_K)
        return oil.value < self.finished(ratio).density_kg_m3 if oil.value is not None else None

    def _first_out(self, left: Composition, oil_kg: Array) -> tuple[str, ...]:
        """The most of the oil that is out; where none is, of the first that would be."""
        if float(oil_kg.sum()) > 0.0:
            weights = np.asarray(oil_kg)
        else:
            held = loading(left, self.temperature_K)
            if held is None:
                return ()
            weights = np.asarray(held.there_mol_m3 / held.held_mol_m3 * left.molar_mass_kg_mol)
        total = float(weights.sum())
        order = [int(i) for i in np.argsort(-weights)[:MOST_FIRST]]
        return tuple(left.names[i] for i in order if weights[i] > FIRST_SHARE * total)

    def finished(self, ratio: float) -> DrinkTotals:
        """Volumes of concentrate and drink are added, at 20 °C."""
        cubic = 1.0 + ratio
        kilos = self._concentrate_kg(ratio)
        pure = blend_density(compose([(self._ethanol, 1.0, 0)]), BENCH_K).interval()[0]
        of_ethanol = dict(zip(self.whole(ratio).names, self.whole(ratio).mass_kg, strict=True))
        return DrinkTotals(
            kilos / cubic,
            100.0 * float(of_ethanol.get("ethanol", 0.0)) / pure / cubic,
            self._contents.sugar_kg / cubic,
            (kilos + self._contents.density_kg_m3) / cubic,
        )

    def rows(self, ratio: float) -> tuple[InDrink, ...]:
        """The formula's rows."""
        seen, whole = self.at(ratio), self.whole(ratio)
        masses = whole.by_row.sum(axis=1)
        oil = seen.composition.row_shares(seen.oil_kg)
        solid = seen.composition.row_shares(seen.crystals_kg)
        return tuple(
            self._in_drink(row.label, ratio, float(masses[i]), float(oil[i]), float(solid[i]))
            for i, row in enumerate(self.weighing.rows)
        )

    def materials(self, ratio: float) -> tuple[InDrink, ...]:
        """The pure materials: a dilution counts as what it holds and as its carrier."""
        whole = self.whole(ratio)
        oil, solid = self._out(ratio)
        found: dict[str, Array] = {}  # kg of it, as oil, as crystals
        for row, row_kg in zip(self.weighing.rows, whole.by_row.sum(axis=1), strict=False):
            for material, share in ((row.material, row.active_fraction), _carried(row)):
                if material is None or share <= 0.0:
                    continue
                of_it = found.setdefault(material.name, np.zeros(3))
                for part, fraction in substances_of(material, self._catalogue.material):
                    kg = float(row_kg) * share * fraction
                    name = part.name
                    of_it += kg * np.array([1.0, oil.get(name, 0.0), solid.get(name, 0.0)])
        return tuple(
            self._in_drink(name, ratio, *(float(kg) for kg in of_it))
            for name, of_it in found.items()
        )

    def _out(self, ratio: float) -> tuple[dict[str, float], dict[str, float]]:
        """Shares of each substance that are out as oil, and as crystals."""
        seen = self.at(ratio)
        names, there_kg = seen.composition.names, seen.composition.mass_kg
        oil = dict(zip(names, (seen.oil_kg / there_kg).tolist(), strict=True))
        return oil, dict(zip(names, (seen.crystals_kg / there_kg).tolist(), strict=True))

    def substances(self, ratio: float) -> tuple[InDrink, ...]:
        """What the rows are made of, without the drink's own water and ethanol."""
        whole = self.whole(ratio)
        brought = whole.by_row[:-1].sum(axis=0)
        oil, solid = self._out(ratio)
        return tuple(
            self._in_drink(
                name,
                ratio,
                float(kg),
                float(kg * oil.get(name, 0.0)),
                float(kg * solid.get(name, 0.0)),
            )
            for name, kg in zip(whole.names, brought, strict=True)
            if kg > 0.0
        )

    def _in_drink(
        self, name: str, ratio: float, kg: float, oil_kg: float, crystals_kg: float
    ) -> InDrink:
        total = self._concentrate_kg(ratio) + self._contents.density_kg_m3
        return InDrink(
            name,
            kg / total * 1e6,
            oil_kg / (1.0 + ratio) * 1e3,
            100.0 * oil_kg / kg,
            100.0 * crystals_kg / kg,
        )


def _carried(row: WeighedRow) -> tuple[Material | None, float]:
    """The carrier of a dilution, and its share of the row."""
    return row.carrier, 1.0 - row.active_fraction


def _names(composition: Composition, there: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(name for name, yes in zip(composition.names, there, strict=True) if yes)


def _spread(counted: Composition, left: Composition, amount: Array) -> Array:
    """An array over what is left, over all that is counted."""
    by_name = dict(zip(left.names, amount, strict=True))
    return np.array([float(by_name.get(name, 0.0)) for name in counted.names])


def largest_clear(glass: FinishedDrink) -> Estimate:
    """mL of concentrate per litre of drink, from the smallest dose up.

    The first at which the chance of haze passes 40 % or crystals stay; the interval runs from a
    chance of 20 % (or crystals not ruled out) to one of 80 % (or crystals surely).
    """
    method = "first dose at which the chance of haze passes 40 % or crystals stay, by bisection"
    if glass.uncounted:
        reason = f"no groups, or no solubility in water, of {listed(glass.uncounted)}"
        return Estimate.unknown("mL/L", reason)
    if glass.at(SMALLEST_RATIO).appearance.chance is None:
        return Estimate.unknown("mL/L", "no model covers this drink")

    def first(level: float, crystals_in: Callable[[DoseResult], bool]) -> float | None:
        def is_over(ratio: float) -> bool:
            seen = glass.at(ratio)
            return (seen.appearance.chance or 0.0) >= level or crystals_in(seen)

        return _first(is_over)

    value = first(CLEAR_BELOW, lambda seen: bool(seen.appearance.crystals))
    low = first(SURELY_CLEAR_BELOW, lambda seen: bool(seen.appearance.perhaps_crystals))
    high = first(SPLITS_ABOVE, lambda seen: seen.sure_crystals)
    if value is None:
        note = "clear up to as much concentrate as drink"
        if low is not None:
            note += f"; haze or crystals can't be ruled out from {two_digits(low * 1e3)} mL/L on"
        return Estimate.absent("mL/L", "not_applicable", note, method)
    if value <= SMALLEST_RATIO:
        return Estimate.absent("mL/L", "out_of_range", "not clear even at 0.001 mL/L", method)
    value, low = value * 1e3, (low or value) * 1e3
    notes = () if high is not None else ("the high end is as much concentrate as drink",)
    return Estimate.ok(
        value,
        min(value, low),
        max(value, (high or LARGEST_RATIO) * 1e3),
        "mL/L",
        method,
        glass.at(SMALLEST_RATIO).sources,
        notes,
    )


def _first(is_over: Callable[[float], bool]) -> float | None:
    """The smallest ratio at which something is so; None where it never is up to 1:1."""
    ratios = [float(r) for r in np.geomspace(SMALLEST_RATIO, LARGEST_RATIO, RATIOS)]
    if is_over(ratios[0]):
        return ratios[0]
    for below, above in pairwise(ratios):
        if is_over(above):
            found = roots_between(
                lambda ln, _: np.array([1.0 if is_over(math.exp(float(ln[0]))) else -1.0]),
                np.log([below]),
                np.log([above]),
                LN_TOLERANCE,
                np.array([-1.0]),
                np.array([1.0]),
            )
            return math.exp(float(found.low[0]))
    return None
