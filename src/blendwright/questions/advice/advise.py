"""What to change: what a maker would try first, each way checked by a fresh assessment and priced.

The changes, and the order in which they are told, come from `trials`; warming and two bottles
change no recipe. Every way is assessed afresh with the grams that it tells; one that does not reach
the goals then is not told as a way. Where none does, the nearest that was reached is told. A way's
price is what else moves: flash point, strength, density, crystals, chance of layers.

The person's own observations count as in `assess`, in where it stands and in the fresh assessment
of each change. The search goes by the models moved by what they say of the formula as written;
where they say less of the changed blend, it aims anew.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa, check_conditions
from blendwright.mixture.weighing import Weighing, weigh
from blendwright.observations import Observation
from blendwright.observations.observed_blend import (
    UNLIKE_THE_MODEL,
    ObservedBlend,
    with_observations,
)
from blendwright.questions.advice.changes import Change, Kind, in_grams, told_grams, with_rows
from blendwright.questions.advice.goals import Goal, margin, of_blend, worst_margin
from blendwright.questions.advice.knobs import Aim
from blendwright.questions.advice.strength import (
    SameStrength,
    aromatic_shares,
    same_strengths,
    strength_words,
)
from blendwright.questions.advice.trials import OF_CARRIERS, Trials, drivers_of, rank_of
from blendwright.questions.editing import as_formula, carriers_of
from blendwright.verdict.blend import Blend
from blendwright.verdict.dissolution_and_layers import (
    CLEAR_BELOW,
    SURELY_CLEAR_BELOW,
    dissolution_word,
)

SCHEMA = "blendwright/advice/1"
MOST_NEAR = 4  # changes that fall short and are assessed afresh
MOST_OF_A_KIND = 2  # ways
AIMS = 3  # times that the aim is taken anew where an assessment tells another flash point
UNCHANGED = ("warm", "two_bottles")  # ways that change no recipe


@dataclass(frozen=True)
class RecipeState:
    """Where a formula stands: for the goals, and for what a change may cost. `temperature_K` is
    where the chance of layers holds: where it is wanted clear, else the bench."""

    met: tuple[bool, ...]
    temperature_K: float
    chance_of_layers: float | None
    dissolves_K: float | None
    flash_K: float | None
    flash_low_K: float | None
    category: str
    treat_as: str
    density_kg_m3: float | None
    dose_factor: float  # how much more of it gives as much of all aromatics together

    def to_dict(self) -> dict[str, object]:
        def celsius(kelvin: float | None) -> float | None:
            return to_celsius(kelvin) if kelvin is not None else None

        return {
            "goals_met": list(self.met),
            "temperature_C": celsius(self.temperature_K),
            "chance_of_layers": self.chance_of_layers,
            "dissolution_temperature_C": celsius(self.dissolves_K),
            "flash_point_C": celsius(self.flash_K),
            "flash_point_low_C": celsius(self.flash_low_K),
            "ghs_category": self.category,
            "ghs_treat_as": self.treat_as,
            "density_g_mL": self.density_kg_m3 / 1e3 if self.density_kg_m3 else None,
            "dose_factor": self.dose_factor if math.isfinite(self.dose_factor) else None,
        }


@dataclass(frozen=True)
class Way:
    """One way to go: what to do, the new recipe, where it then stands, its price.

    `formulas` is the new recipe, or those of two bottles, and `states` where each then stands;
    `same_strength` is what each material's strength needs. `size` is the relative change.
    """

    kinds: tuple[Kind, ...]
    words: str
    size: float
    formulas: tuple[Formula, ...]
    labels: tuple[tuple[str, ...], ...]
    states: tuple[RecipeState, ...]
    price: tuple[str, ...]
    same_strength: tuple[SameStrength, ...] = ()

    @property
    def kind(self) -> str:
        """ "swap", or "swap+more_carrier" for two changes together."""
        return "+".join(self.kinds)

    @property
    def rows(self) -> tuple[tuple[str, float], ...]:
        """Names as shown, and grams, of the new recipe; of both bottles one after the other."""
        return tuple(row for bottle in self.bottles for row in bottle)

    @property
    def bottles(self) -> tuple[tuple[tuple[str, float], ...], ...]:
        """The rows of each recipe."""
        return tuple(
            tuple((label, row.amount.number) for label, row in zip(names, one.rows, strict=True))
            for names, one in zip(self.labels, self.formulas, strict=True)
        )

    @property
    def state(self) -> RecipeState:
        """State of the new recipe; for two bottles that of the one that flashes first."""
        return min(self.states, key=lambda s: math.inf if s.flash_K is None else s.flash_K)

    @property
    def strength(self) -> str:
        """What the same strength needs, in words; "" where nothing changes."""
        return strength_words(self.same_strength)

    def to_dict(self) -> dict[str, object]:
        def table(rows: tuple[tuple[str, float], ...]) -> list[dict[str, object]]:
            return [{"material": name, "grams": grams} for name, grams in rows]

        return {
            "kind": self.kind,
            "do": self.words,
            "size": self.size,
            "rows": table(self.rows) if len(self.bottles) == 1 else [],
            "bottles": [table(rows) for rows in self.bottles] if len(self.bottles) > 1 else [],
            "formulas": [one.to_rows() for one in self.formulas],
            "then": self.state.to_dict(),
            "price": list(self.price),
            "same_strength": [one.to_dict() for one in self.same_strength],
        }


@dataclass(frozen=True)
class Advice:
    """The goals, where the formula stands, and the ways in the order of `trials`.

    `nearest` is there where no change meets the goals: what comes nearest with every aromatic as it
    is, and what comes nearest of all that was tried, if that is another.
    """

    name: str
    goals: tuple[Goal, ...]
    now: RecipeState
    ways: tuple[Way, ...]
    notes: tuple[str, ...]
    nearest: tuple[Way, ...] = ()

    @property
    def is_met(self) -> bool:
        return all(self.now.met)

    def to_dict(self) -> dict[str, object]:
        return {
            "schema": SCHEMA,
            "formula": self.name,
            "goals": [goal.words for goal in self.goals],
            "met": self.is_met,
            "now": self.now.to_dict(),
            "ways": [way.to_dict() for way in self.ways],
            "nearest": [way.to_dict() for way in self.nearest],
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Question:
    """What is asked of which formula, under which conditions, and what the bench saw."""

    weighing: Weighing
    goals: tuple[Goal, ...]
    bench_K: float
    pressure_Pa: float
    catalogue: Catalogue
    observations: tuple[Observation, ...] = ()

    @property
    def asked_K(self) -> float:
        """Where it should be clear, or stay so."""
        return next((g.temperature_K for g in self.goals if g.kind != "flash"), self.bench_K)

    def blend(self, weighing: Weighing, temperature_K: float) -> Blend:
        """As `assess` sees it."""
        alone = Blend(weighing, temperature_K, self.pressure_Pa)
        return with_observations(alone, self.observations, self.catalogue)[0]

    def state(self, weighing: Weighing) -> RecipeState:
        """By a fresh look with everything that an assessment uses."""
        here = self.blend(weighing, self.bench_K)
        there = here if self.asked_K == self.bench_K else self.blend(weighing, self.asked_K)
        flash = here.flash.estimate
        share = sum(aromatic_shares(weighing, self.weighing).values())
        before = sum(aromatic_shares(self.weighing, self.weighing).values())
        return RecipeState(
            tuple(is_met(goal, there) for goal in self.goals),
            self.asked_K,
            there.chance,
            there.last_crystal.value,
            flash.value,
            flash.low,
            here.classings[0].category,
            here.classings[0].treat_as,
            here.density.value,
            before / share if share > 0.0 else float("inf"),
        )


def is_met(goal: Goal, blend: Blend) -> bool:
    """Whether an assessment says so; what can't be told is not met."""
    if goal.kind == "flash":
        flash = blend.flash.estimate
        if flash.is_ok:
            return flash.interval()[0] >= goal.temperature_K
        return flash.status in ("not_applicable", "out_of_range")
    most = SURELY_CLEAR_BELOW if goal.kind == "clear" else CLEAR_BELOW
    lone = len(blend.all_components.substances) == 1  # one substance has nothing to part from
    chance = 0.0 if lone else blend.chance
    return chance is not None and chance < most and _is_dissolved(blend.last_crystal, goal)


def _is_dissolved(last_crystal: Estimate, goal: Goal) -> bool:
    return dissolution_word(last_crystal, goal.temperature_K) == "dissolves"


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
    """Find what makes a formula clear at a temperature, or flash above another: carriers first.

    Parameters
    ----------
    formula : Formula
    clear_at_K : float, optional
        Where it is to be clear; without any goal, at the bench's temperature.
    flash_above_K : float, optional
        What the flash point is to be above, by the best estimate.
    catalogue : Catalogue, optional
        Where materials are found; the one that ships with blendwright unless given.
    most_ways : int
        How many changes are told at the most.
    bench_K, pressure_Pa : float
        -40 to 150 °C, 10 to 120 kPa.
    observations : iterable of Observation
        The person's own (`read_observations`); none are read unless given.

    Returns
    -------
    Advice
        Where it stands now and with each change, as `assess` tells it at the temperature where it
        is wanted clear, else at the bench.

    Raises
    ------
    FormulaError
        For a formula that can't be read.
    ValueError
        For conditions outside those ranges.
    """
    for name, kelvin in (("clear_at_K", clear_at_K), ("flash_above_K", flash_above_K)):
        if kelvin is not None:
            check_conditions(kelvin, name=name)
    check_conditions(bench_K, pressure_Pa, "bench_K")
    catalogue = catalogue or default_catalogue()
    goals = tuple(
        Goal(kind, kelvin)
        for kind, kelvin in (("clear", clear_at_K), ("flash", flash_above_K))
        if kelvin is not None
    ) or (Goal("clear", bench_K),)
    weighing = weigh(formula, catalogue)
    question = Question(weighing, goals, bench_K, pressure_Pa, catalogue, tuple(observations))
    blend = question.blend(weighing, bench_K)
    stays = Goal("stays", bench_K)
    (here,) = of_blend((stays,), blend)
    if clear_at_K is None and margin(here, weighing.composition) >= 0.0:
        question = replace(question, goals=(*goals, stays))  # no cure that clouds it
    goals, counted = question.goals, _counted(blend)
    now = question.state(weighing)
    if blend.without_vapour_data or blend.without_groups:
        names = ", ".join(
            dict.fromkeys([*blend.without_vapour_data, *(s.name for s in blend.without_groups)])
        )
        return Advice(formula.name, goals, now, (), (f"no advice: {names} can't be counted",))
    if blend.burns_unlike_the_model:
        return Advice(formula.name, goals, now, (), (f"no advice: {UNLIKE_THE_MODEL}",))
    if all(now.met):
        return Advice(formula.name, goals, now, (), counted)
    changed, near = _searched(question, now, most_ways)
    warming, notes = _warming(question, blend, now)
    ways = sorted([*warming, *changed, *_two_bottles(question)], key=lambda w: rank_of(w.kinds))
    notes = [*counted, *notes, *_notes(question, ways, near)]
    return Advice(formula.name, goals, now, tuple(ways[:most_ways]), tuple(notes), near)


def _counted(blend: Blend) -> tuple[str, ...]:
    """What the bench saw, where it counts."""
    if not isinstance(blend, ObservedBlend):
        return ()
    told = [one.words() for one in blend.compared if not one.why_not]
    return (f"your own observations count: {'; '.join(told)}",) if told else ()


def _searched(
    question: Question, now: RecipeState, most: int
) -> tuple[tuple[Way, ...], tuple[Way, ...]]:
    """The ways that meet the goals when assessed afresh; without one, what comes nearest."""
    wanted = of_blend(question.goals, question.blend(question.weighing, question.bench_K))
    found: list[Change] = []
    ways: tuple[Way, ...] = ()
    for _ in range(AIMS):
        found = _changes(question, now, wanted)
        ways, short_K = _checked(question, now, [c for c in found if c.meets], most)
        if ways or short_K <= 0.0:
            break
        wanted = _raised(wanted, short_K)
    return ways, () if ways else _nearest_ways(question, now, found)


def _raised(goals: tuple[Goal, ...], short_K: float) -> tuple[Goal, ...]:
    """Goals of a search that fell short: an assessment's flash point lies so much lower."""
    return tuple(
        replace(goal, moved=replace(goal.moved, flash_K=goal.moved.flash_K - short_K))
        for goal in goals
    )


def _changes(question: Question, now: RecipeState, wanted: tuple[Goal, ...]) -> list[Change]:
    """What the search finds for goals that are moved."""
    aim = Aim.of(wanted, question.weighing)
    kept = tuple(a and b for a, b in zip(aim.kept, now.met, strict=True))
    trials = Trials(question.weighing, replace(aim, kept=kept), question.catalogue)
    return [change for change in trials.found() if told_grams(question.weighing, change.weighing)]


def _checked(
    question: Question, now: RecipeState, changes: Sequence[Change], most: int
) -> tuple[tuple[Way, ...], float]:
    """Those that meet the goals when assessed afresh, and by how many K the others flash too low at
    worst."""
    ways: list[Way] = []
    short_K = 0.0
    of_kinds: Counter[tuple[Kind, ...]] = Counter()
    for change in changes:
        if len(ways) == most:
            break
        if of_kinds[change.kinds] == MOST_OF_A_KIND:
            continue
        way = _way(question, change, now)
        if all(way.state.met):
            ways.append(way)
            of_kinds[change.kinds] += 1
        else:
            short_K = max(short_K, _short_K(question, way.state))
    return tuple(ways), short_K


def _short_K(question: Question, state: RecipeState) -> float:
    limits_K = [goal.temperature_K for goal in question.goals if goal.kind == "flash"]
    return 0.0 if not limits_K or state.flash_K is None else max(limits_K) - state.flash_K


def _nearest_ways(question: Question, now: RecipeState, found: Sequence[Change]) -> tuple[Way, ...]:
    """What comes nearest with the aromatics as they are, and what comes nearest of all; no goal
    that is met now is lost."""
    near: list[Way] = []
    for changes in ([c for c in found if rank_of(c.kinds) <= OF_CARRIERS], found):
        for change in sorted(changes, key=lambda c: -c.nearness)[:MOST_NEAR]:
            way = _way(question, change, now)
            if all(then for was, then in zip(now.met, way.state.met, strict=True) if was):
                near.append(way)
                break
    return tuple(dict.fromkeys(near))


def _way(question: Question, change: Change, now: RecipeState) -> Way:
    """A change assessed afresh, and priced."""
    before, after = question.weighing, change.weighing
    then = question.state(after)
    return Way(
        change.kinds,
        f"{change.headline}: {told_grams(before, after)}",
        change.size,
        (as_formula(after),),
        (tuple(row.label for row in after.rows),),
        (then,),
        _price(now, then, change.kinds),
        same_strengths(before, after),
    )


def _price(now: RecipeState, then: RecipeState, kinds: tuple[Kind, ...]) -> tuple[str, ...]:
    parts = []
    if now.flash_K is not None and then.flash_K is not None:
        shift = then.flash_K - now.flash_K
        if abs(shift) >= 1.0:
            how = "falls" if shift < 0.0 else "rises"
            parts.append(f"flash point {how} to {to_celsius(then.flash_K):.0f} °C")
    if then.treat_as != now.treat_as:
        parts.append(f"treat as GHS category {then.treat_as} instead of {now.treat_as}")
    if now.density_kg_m3 and then.density_kg_m3:
        shift = (then.density_kg_m3 - now.density_kg_m3) / 1e3
        if abs(shift) >= 0.005:
            parts.append(f"density {then.density_kg_m3 / 1e3:.3f} g/mL")
    if rank_of(kinds) > OF_CARRIERS:
        parts.append("the flavour itself changes: compare it by tasting")
    return tuple(parts) or ("nothing else moves much",)


def _notes(question: Question, ways: Sequence[Way], near: Sequence[Way]) -> list[str]:
    notes = []
    if near:
        notes.append("no single change and no two together reach it; this comes nearest")
    elif not ways:
        notes.append("nothing that was tried brings it nearer")
    if not carriers_of(question.weighing):
        notes.append("no carrier was found among the rows: add one")
    return notes


def _warming(question: Question, blend: Blend, now: RecipeState) -> tuple[list[Way], list[str]]:
    """Where crystals stand in the way at the bench, warmth dissolves them for a while: a way where
    its window is safe, else the note not to."""
    clear = any(goal.kind == "clear" for goal in question.goals)
    if blend.dissolution_word != "needs_warming" or now.dissolves_K is None:
        return [], []
    to_K = blend.window.may_warm_to_K
    if to_K is None:
        return [], [blend.window.advice.rstrip(".")]
    if not clear:
        return [], []
    words = (
        f"for a while only: warm it, covered, to {to_celsius(to_K):.0f} °C for about 20 "
        f"minutes; below {to_celsius(now.dissolves_K):.0f} °C crystals may form again"
    )
    price = ("top notes are lost while it is warm; see blendwright warm",)
    labels = tuple(row.label for row in question.weighing.rows)
    formulas = (as_formula(question.weighing),)
    return [Way(("warm",), words, 0.0, formulas, (labels,), (now,), price)], []


def _two_bottles(question: Question) -> list[Way]:
    """Two bottles that each meet the goals: the worst rows apart, the carrier shared by weight."""
    weighing = question.weighing
    goals = of_blend(question.goals, question.blend(weighing, question.bench_K))
    carriers = carriers_of(weighing)
    drivers = drivers_of(weighing, goals)
    aromatics = [row for row in weighing.rows if row.label not in {c.label for c in carriers}]
    if not carriers or len(aromatics) < 2:
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
                bottles.append(with_rows(weighing, grams))
            if not all(worst_margin(goals, b.composition) >= 0.0 for b in bottles):
                continue
            states = tuple(question.state(bottle) for bottle in bottles)
            if all(all(state.met) for state in states):
                return [_in_bottles(bottles, states, sorted(apart), share)]
    return []


def _in_bottles(
    bottles: Sequence[Weighing], states: tuple[RecipeState, ...], apart: Sequence[str], share: float
) -> Way:
    first_g, second_g = (in_grams(bottle.total_g) for bottle in bottles)
    words = (
        f"make two bottles, {per_cent(share)} of the carrier with {', '.join(apart)}, the rest "
        f"with the others, and dose both, {first_g} of the first to {second_g} of the second"
    )
    layers = tuple(
        f"bottle {number}: chance of layers {per_cent(state.chance_of_layers)}"
        for number, state in enumerate(states, start=1)
        if state.chance_of_layers is not None and state.chance_of_layers >= CLEAR_BELOW
    )
    return Way(
        ("two_bottles",),
        words,
        0.0,
        tuple(as_formula(bottle) for bottle in bottles),
        tuple(tuple(row.label for row in bottle.rows) for bottle in bottles),
        states,
        ("two bottles to keep and dose", *layers),
    )
