"""Where do these aromatics stay one clear liquid in two carriers, alone and mixed?

A triangle of blends: the aromatics of the formula, kept in their proportions, against a first and
a second carrier, in mass fractions that add up to 1. At each point the chance that the liquid
parts into layers, and how much lies undissolved as crystals, are those that the assessment gives.

The person's own observations count as in `assess` wherever a point is like what was observed.

What counts as aromatics: every row of the formula but the two carriers, and but the carriers that
they replace (`editing.is_carrier`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.formula import Formula, Row
from blendwright.formula.conditions import ATMOSPHERE_Pa, check_conditions
from blendwright.formula.numbers import Amount
from blendwright.mixture.composition import Composition, substances_of
from blendwright.mixture.dissolution import crystallises
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.weighing import WeighedRow, Weighing, resolve, weigh
from blendwright.observations.observation import Observation
from blendwright.observations.observed_blend import with_observations
from blendwright.questions.editing import is_carrier
from blendwright.verdict.blend import Blend

SAME_CARRIER = 0.005  # mass fractions no further apart are one carrier: "96 % vol" either way
ADDED_g = 1.0  # of each carrier, so that both are in the composition that is scaled
AROMATICS, FIRST, SECOND, REPLACED = 0, 1, 2, 3
FEWEST_STEPS, MOST_STEPS = 2, 50


@dataclass(frozen=True, eq=False)
class CarrierMap:
    """Arrays over n blends; `shares` is n x 3: aromatics, first carrier, second carrier (kg/kg).

    `chance` is that of layers (0 to 1) in the liquid that is left, `undissolved` the crystals'
    share of the whole (kg/kg); both are nan where they can't be told. `own` is the formula's own
    point, None where it holds a carrier (`replaced`) that is neither of the two.
    """

    names: tuple[str, str, str]
    temperature_K: float
    steps: int
    shares: Array
    chance: Array
    undissolved: Array
    own: tuple[float, float, float] | None
    replaced: tuple[str, ...]


def carrier_map(
    formula: Formula,
    first: str,
    second: str,
    temperature_K: float,
    steps: int = 10,
    catalogue: Catalogue | None = None,
    observations: Iterable[Observation] = (),
) -> CarrierMap:
    """Layers and crystals over the triangle of aromatics and two carriers, K.

    `observations` are the person's own; none are read unless given. `steps` divide each edge:
    (steps + 1)(steps + 2) / 2 blends. Raises BlendwrightError for
    carriers that aren't known, that are one thing, or that leave no aromatics; FormulaError for a
    formula that can't be weighed; ValueError for steps outside 2 to 50 or a temperature outside
    -40 to 150 °C.
    """
    check_conditions(temperature_K)
    if not FEWEST_STEPS <= steps <= MOST_STEPS:
        raise ValueError(f"steps must lie between {FEWEST_STEPS} and {MOST_STEPS}")
    catalogue = catalogue or default_catalogue()
    carriers = (resolve(first, catalogue), resolve(second, catalogue))
    if _is(_opened(carriers[0], catalogue), _opened(carriers[1], catalogue)):
        raise BlendwrightError(f"{first!r} and {second!r} are the same carrier; name two")
    pair = tuple(_opened(carrier, catalogue) for carrier in carriers)
    written = weigh(formula, catalogue)
    parts = {row.label: _part(row, pair, written.total_g) for row in written.rows}
    aromatic_g = sum(row.grams for row in written.rows if parts[row.label] == AROMATICS)
    if not aromatic_g > 0.0:
        raise BlendwrightError(
            f"nothing but carriers in {formula.name!r}: a map needs at least one material to carry"
        )
    both = _with_both(formula, (first, second), catalogue)
    of_row = [_part(row, pair, written.total_g) for row in both.rows]
    of_row = [parts.get(row.label, part) for row, part in zip(both.rows, of_row, strict=True)]
    shares, seen = triangle(steps), tuple(observations)
    chance, undissolved = np.empty(len(shares)), np.empty(len(shares))
    for k, share in enumerate(shares):
        alone = Blend(_scaled(both, of_row, share), temperature_K, ATMOSPHERE_Pa)
        chance[k], undissolved[k] = _told(with_observations(alone, seen, catalogue)[0])
    replaced = tuple(row.label for row in written.rows if parts[row.label] == REPLACED)
    return CarrierMap(
        ("aromatics", carriers[0].name, carriers[1].name),
        temperature_K,
        steps,
        shares,
        chance,
        undissolved,
        None if replaced else _own(written, parts),
        replaced,
    )


def triangle(steps: int) -> Array:
    """All triples of whole steps that add up to 1, n x 3."""
    return np.array(
        [
            (i / steps, (steps - i - j) / steps, j / steps)
            for i in range(steps + 1)
            for j in range(steps + 1 - i)
        ]
    )


def _opened(carrier: Material, catalogue: Catalogue) -> dict[str, float]:
    """A carrier's substances, as mass fractions by name."""
    return {m.name: fraction for m, fraction in substances_of(carrier, catalogue.material)}


def _is(one: dict[str, float], other: dict[str, float]) -> bool:
    names = one.keys() | other.keys()
    return all(abs(one.get(n, 0.0) - other.get(n, 0.0)) <= SAME_CARRIER for n in names)


def _part(row: WeighedRow, pair: tuple[dict[str, float], ...], total_g: float) -> int:
    """Which corner a row belongs to, or REPLACED."""
    held = {m.name: fraction for m, fraction in row.substances}
    for corner, carrier in zip((FIRST, SECOND), pair, strict=True):
        if _is(held, carrier):
            return corner
    return REPLACED if is_carrier(row, total_g) else AROMATICS


def _with_both(formula: Formula, carriers: tuple[str, str], catalogue: Catalogue) -> Weighing:
    """The formula with ADDED_g more of each carrier, so that every substance is in one list."""
    added = tuple(Row(name, Amount(ADDED_g, "g")) for name in carriers)
    batch_g = None if formula.batch_g is None else formula.batch_g + ADDED_g * len(added)
    return weigh(replace(formula, rows=(*formula.rows, *added), batch_g=batch_g), catalogue)


def _own(written: Weighing, parts: dict[str, int]) -> tuple[float, float, float]:
    grams = [
        sum(row.grams for row in written.rows if parts[row.label] == corner)
        for corner in (AROMATICS, FIRST, SECOND)
    ]
    return (
        grams[0] / written.total_g,
        grams[1] / written.total_g,
        grams[2] / written.total_g,
    )


def _scaled(both: Weighing, of_row: list[int], share: Array) -> Weighing:
    """The blend of 1 kg with these shares of aromatics and carriers; what is none of it is out."""
    grams = np.array([row.grams for row in both.rows])
    corner = np.array(of_row)
    factor = np.zeros(len(grams))
    for k in (AROMATICS, FIRST, SECOND):
        factor[corner == k] = 1e3 * share[k] / grams[corner == k].sum()
    whole = both.composition
    by_row = whole.by_row * factor[:, np.newaxis]
    kept = Composition(whole.substances, by_row, whole.liquid_as_sold)
    rows = tuple(replace(row, grams=g) for row, g in zip(both.rows, grams * factor, strict=True))
    return replace(both, rows=rows, composition=kept.times(np.where(kept.mass_kg > 0.0, 1.0, 0.0)))


def _told(blend: Blend) -> tuple[float, float]:
    """Chance of layers and share undissolved, nan where they can't be told."""
    temperature_K = blend.temperature_K
    lone = len(blend.all_components.substances) == 1
    chance = 0.0 if lone else blend.chance  # one substance has nothing to part from
    undissolved: float | None = None
    if not any(crystallises(s.fusion, temperature_K) for s in blend.without_groups):
        found = blend.crystals_at(temperature_K)
        if found is not None:
            undissolved = float(
                (found.value * found.mass_kg).sum() / blend.all_components.mass_kg.sum()
            )
    return (
        np.nan if chance is None else chance,
        np.nan if undissolved is None else undissolved,
    )
