"""What to change: the smallest ways to meet the goals, ranked, each checked and priced.

Ways of one kind and one of several come from `changes`; warming and two bottles change no gram.
Every way is assessed afresh; one that does not hold then is not told. Its price is what else moves:
flash point, dose, density, crystals, chance of layers.

The person's own observations count as in `assess`, in where it stands and in the fresh assessment
of each change. The search tries both the models moved by them, as they are for the formula as
written, and the models alone; of what holds then, the smaller change is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from blendwright.advice.changes import (
    COSOLVENTS,
    MOST_REDUCED,
    SWAPS,
    Change,
    cosolvent,
    less,
    more_carrier,
    several,
    swap,
)
from blendwright.advice.goals import Goal, margin, of_blend, shortfall, worst_margin
from blendwright.blend import Blend
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.editing import carriers_of, with_grams
from blendwright.formula import Formula
from blendwright.observations.observation import Observation
from blendwright.observations.observed_blend import (
    UNLIKE_THE_MODEL,
    ObservedBlend,
    with_observations,
)
from blendwright.weighing import Weighing, weigh

SCHEMA = "blendwright/advice/1"
CHECKED_MARGIN = -0.01  # rounding of the last digit
PROBE = 0.2  # share taken from a row to see how much it matters


@dataclass(frozen=True)
class State:
    """Where a formula stands: for the goals, and for what a change may cost. `temperature_K` is
    where the chance of layers holds: where it is wanted clear, else the bench."""

    margins: tuple[float, ...]
    temperature_K: float
    chance_of_layers: float | None
    dissolves_K: float | None
    flash_K: float | None
    flash_low_K: float | None
    category: str
    density_kg_m3: float | None
    dose_factor: float  # how much more of it gives the same flavour

    def to_dict(self) -> dict[str, object]:
        def celsius(kelvin: float | None) -> float | None:
            return kelvin - 273.15 if kelvin is not None else None

        return {
            "goals_met": [m >= CHECKED_MARGIN for m in self.margins],
            "temperature_C": self.temperature_K - 273.15,
            "chance_of_layers": self.chance_of_layers,
            "dissolution_temperature_C": celsius(self.dissolves_K),
            "flash_point_C": celsius(self.flash_K),
            "flash_point_low_C": celsius(self.flash_low_K),
            "ghs_category": self.category,
            "density_g_mL": self.density_kg_m3 / 1e3 if self.density_kg_m3 else None,
            "dose_factor": self.dose_factor,
        }


@dataclass(frozen=True)
class Way:
    """One way to meet the goals: what to do, the new grams, where it then stands, its price."""

    kind: str
    words: str
    size: float
    rows: tuple[tuple[str, float], ...]
    state: State
    price: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "kind": self.kind,
            "do": self.words,
            "size": self.size,
            "rows": [{"material": name, "grams": grams} for name, grams in self.rows],
            "then": self.state.to_dict(),
            "price": list(self.price),
        }


@dataclass(frozen=True)
class Advice:
    """The goals, where the formula stands, and the ways, the smallest change first."""

    name: str
    goals: tuple[Goal, ...]
    now: State
    ways: tuple[Way, ...]
    notes: tuple[str, ...]

    @property
    def is_met(self) -> bool:
        return all(m >= CHECKED_MARGIN for m in self.now.margins)

    def to_dict(self) -> dict[str, object]:
        return {
            "schema": SCHEMA,
            "formula": self.name,
            "goals": [goal.words for goal in self.goals],
            "met": self.is_met,
            "now": self.now.to_dict(),
            "ways": [way.to_dict() for way in self.ways],
            "notes": list(self.notes),
        }


def advise(
    formula: Formula,
    *,
    clear_at_K: float | None = None,
    flash_above_K: float | None = None,
    catalogue: Catalogue | None = None,
    most_ways: int = 8,
    bench_K: float = BENCH_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    observations: Iterable[Observation] = (),
) -> Advice:
    """The smallest changes that make a formula clear at a temperature, or flash above another.

    Without a goal: clear at the bench's temperature. Where it stands now and with each change is
    told as `assess` tells it at the temperature where it is wanted clear, else at the bench.
    `observations` are the person's own; none are read unless given. Raises FormulaError for a
    formula that can't be read.
    """
    catalogue = catalogue or default_catalogue()
    goals = tuple(
        Goal(kind, kelvin)
        for kind, kelvin in (("clear", clear_at_K), ("flash", flash_above_K))
        if kelvin is not None
    ) or (Goal("clear", bench_K),)
    weighing = weigh(formula, catalogue)
    seen = tuple(observations)

    def observed(made: Weighing) -> Blend:
        return with_observations(Blend(made, bench_K, pressure_Pa), seen, catalogue)[0]

    blend = observed(weighing)
    counted = _counted(blend)
    stays = Goal("stays", bench_K)
    (here,) = of_blend((stays,), blend)
    if clear_at_K is None and margin(here, weighing.composition) >= 0.0:
        goals = (*goals, stays)  # no cure that clouds it
    now = _state(blend, goals, weighing)
    if blend.blind or blend.without_groups:
        names = ", ".join(dict.fromkeys([*blend.blind, *(s.name for s in blend.without_groups)]))
        return Advice(formula.name, goals, now, (), (f"no advice: {names} can't be reckoned with",))
    if blend.burns_unlike_the_model:
        return Advice(formula.name, goals, now, (), (f"no advice: {UNLIKE_THE_MODEL}",))
    if all(m >= CHECKED_MARGIN for m in now.margins):
        return Advice(formula.name, goals, now, (), counted)
    alone = Blend(weighing, bench_K, pressure_Pa)
    searched = dict.fromkeys((of_blend(goals, blend), of_blend(goals, alone)))
    found = [change for wanted in searched for change in _changes(weighing, wanted, catalogue)]
    checked = [_checked(change, goals, observed, now, weighing) for change in found]
    ways = _smallest([way for way in checked if way is not None], weighing)
    free = [*_warming(blend, goals, now), *_two_bottles(weighing, of_blend(goals, blend), now)]
    notes = [*counted]
    if not ways and not free:
        notes.append("no change of one kind was found that meets the goals")
    if blend.dissolution_word == "needs_warming" and blend.window.may_warm_to_K is None:
        notes.append(blend.window.advice)
    if not carriers_of(weighing):
        notes.append("no carrier was found among the rows: add one")
    return Advice(formula.name, goals, now, (*free, *ways[:most_ways]), tuple(notes))


def _counted(blend: Blend) -> tuple[str, ...]:
    """What the bench saw, where it counts."""
    if not isinstance(blend, ObservedBlend):
        return ()
    told = [one.words() for one in blend.compared if not one.why_not]
    return (f"your own observations count: {'; '.join(told)}",) if told else ()


def _smallest(ways: list[Way], original: Weighing) -> list[Way]:
    """Of each kind of change to the same rows the smallest, and the smallest first."""
    before = {row.label: row.grams for row in original.rows}
    kept: dict[tuple[str, frozenset[str]], Way] = {}
    for way in sorted(ways, key=lambda way: way.size):
        changed = {label for label, grams in way.rows if abs(grams - before.get(label, 0.0)) > 1e-9}
        left_out = before.keys() - {label for label, _ in way.rows}
        kept.setdefault((way.kind, frozenset(changed | left_out)), way)
    return list(kept.values())


def _changes(weighing: Weighing, goals: tuple[Goal, ...], catalogue: Catalogue) -> list[Change]:
    drivers = drivers_of(weighing, goals)
    tried = [
        more_carrier(weighing, goals),
        *(swap(weighing, goals, other, catalogue) for other in SWAPS),
        *(less(weighing, goals, label) for label in drivers[:MOST_REDUCED]),
        *(cosolvent(weighing, goals, name, catalogue) for name in COSOLVENTS),
        several(weighing, goals, drivers),
    ]
    return [change for change in tried if change is not None]


def drivers_of(weighing: Weighing, goals: tuple[Goal, ...]) -> list[str]:
    """The rows whose lessening helps where the goals are missed, the most helpful first."""
    carriers = {row.label for row in carriers_of(weighing)}
    start = shortfall(goals, weighing.composition)
    gains = []
    for row in weighing.rows:
        if row.label in carriers:
            continue
        lessened = with_grams(weighing, {row.label: row.grams * (1.0 - PROBE)})
        gains.append((shortfall(goals, lessened.composition) - start, row.label))
    return [label for gain, label in sorted(gains, reverse=True) if gain > 1e-6]


def _aromatics_share(weighing: Weighing, original: Weighing) -> float:
    """Share of the mass of what was not a solvent in the original formula, carrier or not."""
    carriers = {row.label for row in carriers_of(original)}
    aromatics = {row.label for row in original.rows if row.material.family != "carriers"} - carriers
    return sum(r.grams for r in weighing.rows if r.label in aromatics) / weighing.total_g


def _state(blend: Blend, goals: tuple[Goal, ...], original: Weighing) -> State:
    """By a fresh look with everything that an assessment uses."""
    flash = blend.flash.estimate
    share = _aromatics_share(blend.weighing, original)
    before = _aromatics_share(original, original)
    at_K = next((goal.temperature_K for goal in goals if goal.kind == "clear"), blend.temperature_K)
    return State(
        tuple(margin(goal, blend.weighing.composition) for goal in of_blend(goals, blend)),
        at_K,
        blend.chance_of_split(at_K),
        blend.last_crystal.value,
        flash.value,
        flash.low,
        blend.classings[0].category,
        blend.density.value,
        before / share if share > 0.0 else float("inf"),
    )


def _checked(
    change: Change,
    goals: tuple[Goal, ...],
    observed: Callable[[Weighing], Blend],
    now: State,
    original: Weighing,
) -> Way | None:
    """The change assessed afresh with grams as they would be weighed (four digits)."""
    rounded = with_grams(
        change.weighing, {row.label: float(f"{row.grams:.4g}") for row in change.weighing.rows}
    )
    then = _state(observed(rounded), goals, original)
    if any(m < CHECKED_MARGIN for m in then.margins):
        return None
    rows = tuple((row.label, row.grams) for row in rounded.rows)
    price = _price(now, then, change.kind)
    return Way(change.kind, change.words, change.size, rows, then, price)


def _price(now: State, then: State, kind: str) -> tuple[str, ...]:
    parts = []
    if now.flash_K is not None and then.flash_K is not None:
        shift = then.flash_K - now.flash_K
        if abs(shift) >= 1.0:
            how = "falls" if shift < 0.0 else "rises"
            parts.append(f"flash point {how} to {then.flash_K - 273.15:.0f} °C")
    if then.category != now.category:
        parts.append(f"GHS category {then.category} instead of {now.category}")
    if abs(then.dose_factor - 1.0) >= 0.02:
        parts.append(f"dose {then.dose_factor:.2f} times as much for the same strength")
    if now.density_kg_m3 and then.density_kg_m3:
        shift = (then.density_kg_m3 - now.density_kg_m3) / 1e3
        if abs(shift) >= 0.005:
            parts.append(f"density {then.density_kg_m3 / 1e3:.3f} g/mL")
    if kind in ("less", "several"):
        parts.append("the flavour itself changes")
    return tuple(parts) or ("nothing else moves much",)


def _warming(blend: Blend, goals: tuple[Goal, ...], now: State) -> list[Way]:
    """Where crystals stand in the way at the bench, and its window is safe, warmth clears them for
    a while."""
    to_K = blend.window.may_warm_to_K
    clear = any(goal.kind == "clear" for goal in goals)
    if not clear or to_K is None or now.dissolves_K is None:
        return []
    if blend.dissolution_word != "needs_warming":
        return []
    words = (
        f"for a while only: warm it, covered, to {to_K - 273.15:.0f} °C for about 20 minutes; the "
        f"crystals go, but below {now.dissolves_K - 273.15:.0f} °C they may come back"
    )
    rows = tuple((row.label, row.grams) for row in blend.weighing.rows)
    return [Way("warm", words, 0.0, rows, now, ("top-notes are lost while warm",))]


def _two_bottles(weighing: Weighing, goals: tuple[Goal, ...], now: State) -> list[Way]:
    """Two bottles that each meet the goals: the worst rows apart, the carrier shared by weight."""
    carriers = carriers_of(weighing)
    drivers = drivers_of(weighing, goals)
    aromatics = [row for row in weighing.rows if row.label not in {c.label for c in carriers}]
    if not carriers or len(aromatics) < 2 or not drivers:
        return []
    for count in range(1, len(drivers)):
        apart = set(drivers[:count])
        groups = [
            [r for r in aromatics if (r.label in apart) == inside] for inside in (True, False)
        ]
        for share in (0.5, 0.7, 0.3):
            bottles = []
            for group, part in zip(groups, (share, 1.0 - share), strict=True):
                grams = {row.label: 0.0 for row in aromatics}
                grams |= {row.label: row.grams for row in group}
                grams |= {row.label: row.grams * part for row in carriers}
                bottles.append(with_grams(weighing, grams))
            if all(worst_margin(goals, b.composition) >= 0.0 for b in bottles):
                words = (
                    f"two bottles, {share:.0%} of the carrier with {', '.join(sorted(apart))}, the "
                    "rest with the others; dose both"
                )
                rows = tuple((row.label, row.grams) for row in weighing.rows)
                return [
                    Way("two_bottles", words, 0.0, rows, now, ("two bottles to keep and dose",))
                ]
    return []
