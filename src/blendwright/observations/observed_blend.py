"""The answers about one blend with the person's own observations counted in.

The one place where estimates meet observations: every answer that rests on an adjusted one (words,
classes, findings) follows from it by the same code as without. What stands nowhere else:

- A number (density, boiling point, flash point) moves by `bayesian_update`, the chance of layers by
  `visual_observations`; the cloud temperature is where that chance passes a half. Where the last
  crystals dissolved is a row of the liquid model's fit (`crystal_rows`): all that is told of
  crystals follows by the same code as without, in every blend that holds the crystal.
- Where the model has no flash point because nothing burns or all flash above 350 °C, the lowest
  measured one stands. Where it can't tell, the flash point stays unknown: treat as flammable.
- A liquid that the blend becomes (over its crystals, after a loss) was not measured: its flash
  point moves by as many K as the blend's own, the interval as wide as the model's. Upwards its low
  end moves only by the correlation of the two liquids, and only if the same blend was measured.
- Vapour, flash and boiling points stand over the model's own state: what was seen of layers and
  crystals moves none.
- The more cautious of measured and modelled leads the class: the category with the measurement of
  this blend or that of the model's best estimate; with similar blends only, all in its reach.
- Whatever forbids "clear of the limit" without observations forbids it with them. Only a
  measurement of the same blend can move a standing to "clear", and it says that it is the person's.
- So with warming: the low end that the margin is taken from lies above the model's own only by a
  measurement of the same blend: by no more K than the flash point itself rises (one that only
  agrees with the model, or lies below it, widens nothing), nor above the measurement's low end.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import astuple, replace
from functools import cached_property

from blendwright.catalogue import Catalogue
from blendwright.estimate import Estimate, to_celsius
from blendwright.formula.conditions import BENCH_K
from blendwright.mixture.clarity import cloud_temperature
from blendwright.mixture.composition import Composition
from blendwright.mixture.dissolution import Dissolution
from blendwright.mixture.flash_point import BlendFlash, blend_flash_point
from blendwright.observations.bayesian_update import adjusted
from blendwright.observations.compared import Compared, compare
from blendwright.observations.crystal_rows import in_order, shifts_by
from blendwright.observations.observation import Observation
from blendwright.observations.similarity import (
    correlation,
    correlations,
    features_of_liquid,
)
from blendwright.observations.visual_observations import LEAST_CHANCE, chance_after
from blendwright.verdict.blend import Blend
from blendwright.verdict.flammability import Classing
from blendwright.verdict.limits import category_words, graver
from blendwright.verdict.warming import LowEnd

FIRE = ("flash_point", "boiling_point")
MOST_IN_A_NOTE = 3
UNLIKE_THE_MODEL = "you measured a flash point where the model has none"
_DIGITS = {"g/mL": 4, "°C": 0}


class ObservedBlend(Blend):
    """A blend (`alone`) and the observations in reach of it (`compared`). Raises nothing."""

    def __init__(
        self, alone: Blend, observations: Iterable[Observation], catalogue: Catalogue
    ) -> None:
        super().__init__(alone.weighing, alone.temperature_K, alone.pressure_Pa)
        self.alone = alone
        self._seen = tuple(observations)
        self._catalogue = catalogue
        self.compared = compare(alone, self._seen, catalogue)
        self._visual_observations = tuple(
            seen for c in self.compared for seen in c.visual_observations
        )
        rows = [(astuple(c.observation), row) for c in self.compared for row in c.rows]
        self.condensed = self.modelled_components.given(shifts_by(in_order(rows)))

    def _about(self, question: str) -> list[Compared]:
        return [c for c in self.compared if c.observation.question == question and not c.why_not]

    def _same(self, question: str) -> list[Compared]:
        return [c for c in self._about(question) if c.is_same_blend]

    def _adjusted(self, question: str, prior: Estimate) -> Estimate:
        counted = self._about(question)
        if not prior.is_ok or not counted:
            return prior
        residuals = [c.residual for c in counted if c.residual is not None]
        among = correlations([c.features for c in counted])
        value, low, high = adjusted(prior, residuals, among, question in FIRE)
        if (value, low, high) == prior.interval():
            return prior
        return Estimate.ok(
            value,
            low,
            high,
            prior.unit,
            f"{prior.method}; adjusted by your measurements",
            (*prior.sources, *(c.observation.source for c in counted)),
            (*prior.notes, _note(prior, counted)),
        )

    @cached_property
    def density(self) -> Estimate:
        return self._adjusted("density", self.alone.density)

    # Layers

    def chance_of_split(self, temperature_K: float) -> float | None:
        before = super().chance_of_split(temperature_K)
        return (
            None
            if before is None
            else chance_after(before, self._visual_observations, temperature_K)
        )

    def log_odds_shift(self, temperature_K: float) -> float:
        before = super().chance_of_split(temperature_K)
        if before is None or not self._visual_observations:
            return 0.0
        return _log_odds(
            chance_after(before, self._visual_observations, temperature_K)
        ) - _log_odds(before)

    @property
    def may_split(self) -> bool:
        return super().may_split or self.alone.may_split

    @cached_property
    def _at_20C_too(self) -> Blend:
        return ObservedBlend(self.alone.at_20C, self._seen, self._catalogue)

    @cached_property
    def _chance_as_one(self) -> float | None:
        before = self.alone._chance_as_one
        return None if before is None else chance_after(before, self._visual_observations, BENCH_K)

    @property
    def burns_in_layers(self) -> bool:
        return super().burns_in_layers or self.alone.burns_in_layers

    @cached_property
    def cloud(self) -> Estimate:
        prior = super().cloud
        if prior.status == "unknown" or not self._visual_observations:
            return prior
        seen = cloud_temperature(
            self.condensed,
            lambda chance, at_K: chance_after(chance, self._visual_observations, at_K),
        )
        if seen == prior:
            return prior
        counted = [c for c in self.compared if c.visual_observations]
        return replace(
            seen,
            method=f"{seen.method}; with what you saw",
            sources=(*seen.sources, *(c.observation.source for c in counted)),
            notes=(*seen.notes, _note(prior, counted)),
        )

    # Crystals

    @cached_property
    def dissolved(self) -> Dissolution:
        """By the liquid model with the measured solubilities among its rows."""
        counted = [c for c in self.compared if c.rows]
        found = super().dissolved
        if not counted or not found.last.is_ok:
            return found

        def told(estimate: Estimate, prior: Estimate) -> Estimate:
            return replace(
                estimate,
                method=f"{estimate.method}; with your measurements in its fit",
                sources=(*estimate.sources, *(c.observation.source for c in counted)),
                notes=(*estimate.notes, _note(prior, counted)),
            )

        before = {solid.name: solid.temperature for solid in self.alone.dissolved.solids}
        solids = (
            replace(solid, temperature=told(solid.temperature, before[solid.name]))
            for solid in found.solids
        )
        return Dissolution(told(found.last, self.alone.dissolved.last), tuple(solids))

    # Vapour and fire

    @cached_property
    def boiling(self) -> Estimate:
        return self._adjusted("boiling_point", self.alone.boiling)

    @property
    def _flash_by_model(self) -> BlendFlash:
        return self.alone.flash

    @cached_property
    def flash(self) -> BlendFlash:
        prior = self._flash_by_model
        counted = self._about("flash_point")
        measured = [c for c in self.compared if c.observation.question == "flash_point"]
        if prior.estimate.status in ("not_applicable", "out_of_range") and measured:
            return BlendFlash(_lowest(measured, prior.estimate), prior.shares)
        if not counted:
            return prior
        return BlendFlash(self._adjusted("flash_point", prior.estimate), prior.shares)

    @property
    def flash_shift_K(self) -> float:
        before, after = self._flash_by_model.estimate, self.flash.estimate
        if not (before.is_ok and after.is_ok):
            return 0.0
        return after.interval()[0] - before.interval()[0]

    @property
    def burns_unlike_the_model(self) -> bool:
        return self.flash.estimate.is_ok and not self._flash_by_model.estimate.is_ok

    def flash_of(self, liquid: Composition) -> Estimate:
        if self.burns_unlike_the_model:
            return Estimate.unknown("K", UNLIKE_THE_MODEL)
        found = blend_flash_point(liquid, self.pressure_Pa)
        shift = self.flash_shift_K
        if shift == 0.0 or not found.estimate.is_ok:
            return found.estimate
        rho = 1.0 if shift < 0.0 else self._correlation_with(liquid, found)
        model = found.estimate
        value, low, high = model.interval()
        return Estimate.ok(
            value + shift,
            low + rho * shift,
            high + shift,
            "K",
            f"{model.method}; moved as the blend's own by your measurements",
            (*model.sources, *(c.observation.source for c in self._about("flash_point"))),
            (*model.notes, f"model alone {to_celsius(value):.0f} °C; moved by {shift:+.1f} °C"),
        )

    def _correlation_with(self, liquid: Composition, found: BlendFlash) -> float:
        """Correlation of another liquid with the blend as measured; 0 where only similar ones
        were."""
        if not self._same("flash_point"):
            return 0.0
        here = features_of_liquid(self.modelled_components, self.flash.shares)
        return correlation(here.distance(features_of_liquid(liquid, found.shares)))

    @cached_property
    def liquids_over_crystals(self) -> tuple[Composition, ...]:
        return (*self.alone.liquids_over_crystals, *super().liquids_over_crystals)

    @cached_property
    def held_low_end(self) -> LowEnd | None:
        model, told = self._flash_by_model.estimate, self.flash.estimate
        if not (model.is_ok and told.is_ok):
            return None
        value, low, _ = model.interval()
        same = [c.residual for c in self._same("flash_point")]
        measured = min((value + r.off - r.half_width for r in same if r), default=-math.inf)
        moved = low + self.flash_shift_K
        if min(measured, moved) > low:
            found = min(
                LowEnd(measured, "the low end of your measurement"),
                LowEnd(moved, "the model's low end moved as far as the flash point"),
                key=lambda end: end.kelvin,
            )
        else:
            only = "" if same else ", as only similar blends were measured"
            found = LowEnd(low, f"the low end by the model alone{only}")
        return found if found.kelvin < told.interval()[1] else None

    @property
    def whose_flash(self) -> str:
        """ "your measurement of 2026-11-20", of this very blend."""
        seen_on = [c.observation.seen_on.isoformat() for c in self._same("flash_point")]
        days = ", ".join(dict.fromkeys(seen_on))
        return f"your measurement of {days}"

    @cached_property
    def never_clear(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*self.alone.never_clear, *super().never_clear)))

    @cached_property
    def classings(self) -> tuple[Classing, ...]:
        pairs = zip(self.alone.classings, super().classings, strict=True)
        return tuple(self._no_clearer(alone, made) for alone, made in pairs)

    def _no_clearer(self, alone: Classing, made: Classing) -> Classing:
        """The more cautious of measured and modelled leads: the category of the model's best
        estimate where the same blend was measured, else all that the model has in reach. A "clear"
        of another category than the model alone would be treated as needs the same blend."""
        if not self._fire_is_adjusted or "unknown" in (alone.category, made.category):
            return made
        same = bool(self._same("flash_point"))
        treat_as = graver(made.scheme, made.treat_as, alone.category if same else alone.treat_as)
        model = replace(made, treat_as=treat_as, model_category=alone.category)
        if made.standing != "clear" or alone.treat_as == made.category:
            return model
        if not same:
            why = "the model alone does not clear it, and only similar blends were measured"
            return replace(model, standing="too_near", reasons=(*made.reasons, why))
        if treat_as != made.treat_as:
            why = f"by the model alone it is {category_words(made.scheme, treat_as)[0]}"
            return replace(model, standing="too_near", reasons=(*made.reasons, why))
        basis = f"{self.whose_flash}, not the model alone"
        return replace(model, basis=basis, reasons=(*made.reasons, f"by {basis}"))

    @property
    def _fire_is_adjusted(self) -> bool:
        """Whether measurements moved its flash or boiling point."""
        return (
            self.flash.estimate != self._flash_by_model.estimate
            or self.boiling != self.alone.boiling
        )


def with_observations(
    alone: Blend, observations: Iterable[Observation], catalogue: Catalogue
) -> tuple[Blend, tuple[Compared, ...]]:
    """The blend with what was seen of it and of similar blends; as it is where nothing was."""
    if isinstance(alone, ObservedBlend):  # counted in already
        return alone, alone.compared
    seen = tuple(observations)
    if not seen:
        return alone, ()
    observed = ObservedBlend(alone, seen, catalogue)
    return (observed, observed.compared) if observed.compared else (alone, ())


def _log_odds(chance: float) -> float:
    inside = min(max(chance, LEAST_CHANCE), 1.0 - LEAST_CHANCE)
    return math.log(inside / (1.0 - inside))


def _lowest(measured: Sequence[Compared], prior: Estimate) -> Estimate:
    """The lowest measured flash point, where the model says that there is none."""
    lowest = min(measured, key=lambda c: c.observation.value)
    made = lowest.observation.as_estimate()
    why = "; ".join(prior.notes)
    return made.with_notes(f"the model alone: {why}; {lowest.words()}")


def _note(prior: Estimate, counted: Sequence[Compared]) -> str:
    """ "model alone 34 °C (23 to 52); your measurement: flash point 41 ± 6 °C (...)"."""
    shown = prior.in_display_units()
    alone = "; ".join(shown.notes)
    if shown.is_ok:
        digits = _DIGITS.get(shown.unit, 3)
        value, low, high = (f"{number:.{digits}f}" for number in shown.interval())
        alone = f"{value} {shown.unit} ({low} to {high})"
    told = [c.words() for c in counted[:MOST_IN_A_NOTE]]
    more = len(counted) - len(told)
    return f"model alone {alone}; you saw: {'; '.join(told)}" + (
        f"; and {more} more" if more else ""
    )
