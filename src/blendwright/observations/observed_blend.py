"""The answers about one blend with the person's own observations counted in.

The one place where estimates meet observations: every answer that rests on an adjusted one (words,
classes, findings) follows from it by the same code as without. What stands nowhere else:

- A number (density, boiling point, flash point, where the last crystals go) moves by `rule`, the
  chance of layers by `looks`; the cloud temperature is where that chance passes a half. What lies
  undissolved at T is what the model says for T less the shift of the last crystal.
- Where the model has no flash point because nothing burns or all flash above 350 °C, the lowest
  measured one stands. Where it can't tell, the flash point stays unknown: treat as flammable.
- Fire is reckoned with layers where the model alone, or the model with the looks, expects them.
- Whatever forbids "clear of the limit" without observations forbids it with them. Only a
  measurement of the same blend can move a standing to "clear", and it says that it is the person's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property

from blendwright.blend import Blend, Solid
from blendwright.catalogue import Catalogue
from blendwright.estimate import Estimate
from blendwright.mixture.clarity import cloud_temperature
from blendwright.mixture.dissolution import Crystals
from blendwright.mixture.flash_point import BlendFlash
from blendwright.observations.comparing import Compared, compare
from blendwright.observations.looks import chance_after
from blendwright.observations.observation import Observation
from blendwright.observations.rule import adjusted
from blendwright.observations.similarity import correlations, last_crystal_name
from blendwright.verdict.flammability import Classing

FIRE = ("flash_point", "boiling_point")
MOST_IN_A_NOTE = 3
_DIGITS = {"g/mL": 4, "°C": 0}


class ObservedBlend(Blend):
    """A blend (`alone`) and the observations in reach of it (`compared`). Raises nothing."""

    def __init__(
        self, alone: Blend, observations: Iterable[Observation], catalogue: Catalogue
    ) -> None:
        super().__init__(alone.weighing, alone.temperature_K, alone.pressure_Pa)
        self.alone = alone
        self.compared = compare(alone, observations, catalogue)
        self._looks = tuple(look for c in self.compared for look in c.looks)

    def _about(self, question: str) -> list[Compared]:
        return [c for c in self.compared if c.observation.question == question and not c.why_not]

    def _adjusted(self, question: str, prior: Estimate) -> Estimate:
        counted = self._about(question)
        if not prior.is_ok or not counted:
            return prior
        residuals = [c.residual for c in counted if c.residual is not None]
        among = correlations([c.place for c in counted])
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
        return None if before is None else chance_after(before, self._looks, temperature_K)

    @property
    def may_split(self) -> bool:
        return super().may_split or self.alone.may_split

    @cached_property
    def cloud(self) -> Estimate:
        prior = self.alone.cloud
        if prior.status == "unknown" or not self._looks:
            return prior
        seen = cloud_temperature(
            self.blend, lambda chance, at_K: chance_after(chance, self._looks, at_K)
        )
        if seen == prior:
            return prior
        counted = [c for c in self.compared if c.looks]
        return replace(
            seen,
            method=f"{seen.method}; with what you saw",
            sources=(*seen.sources, *(c.observation.source for c in counted)),
            notes=(*seen.notes, _note(prior, counted)),
        )

    # Crystals

    @cached_property
    def last_crystal(self) -> Estimate:
        return self._adjusted("crystals_gone", self.alone.last_crystal)

    @cached_property
    def _crystal_shift_K(self) -> float:
        after, before = self.last_crystal, self.alone.last_crystal
        return after.interval()[0] - before.interval()[0] if after.is_ok else 0.0

    def _solved_crystals(self, temperature_K: float) -> Crystals | None:
        if self._crystal_shift_K == 0.0:
            return super()._solved_crystals(temperature_K)
        found = self.alone.crystals_at(temperature_K - self._crystal_shift_K)
        return None if found is None else replace(found, temperature_K=temperature_K)

    @cached_property
    def solids(self) -> tuple[Solid, ...]:
        last = last_crystal_name(self.alone)
        return tuple(
            replace(solid, dissolves=self.last_crystal)
            if solid.name == last and self.last_crystal.is_ok
            else solid
            for solid in self.alone.solids
        )

    # Vapour and fire

    @cached_property
    def boiling(self) -> Estimate:
        same = self.may_split == self.alone.may_split
        return self._adjusted("boiling_point", self.alone.boiling if same else super().boiling)

    @cached_property
    def flash(self) -> BlendFlash:
        same = self.may_split == self.alone.may_split
        prior = self.alone.flash if same else super().flash
        counted = self._about("flash_point")
        measured = [c for c in self.compared if c.observation.question == "flash_point"]
        if prior.estimate.status in ("not_applicable", "out_of_range") and measured:
            return BlendFlash(_lowest(measured, prior.estimate), prior.shares)
        if not counted:
            return prior
        return BlendFlash(self._adjusted("flash_point", prior.estimate), prior.shares)

    @cached_property
    def never_clear(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*self.alone.never_clear, *super().never_clear)))

    @cached_property
    def classings(self) -> tuple[Classing, ...]:
        pairs = zip(self.alone.classings, super().classings, strict=True)
        return tuple(self._no_clearer(alone, made) for alone, made in pairs)

    def _no_clearer(self, alone: Classing, made: Classing) -> Classing:
        """A standing of "clear" that the model alone does not give needs the same blend."""
        if made.standing != "clear" or (
            alone.standing == "clear" and alone.category == made.category
        ):
            return made
        same = [c for c in self._about("flash_point") if c.is_same_blend]
        if not same:
            why = "the model alone does not clear it, and only similar blends were measured"
            return replace(made, standing="too_near", reasons=(*made.reasons, why))
        days = ", ".join(dict.fromkeys(c.observation.seen_on.isoformat() for c in same))
        basis = f"your measurement of {days}, not the model alone"
        return replace(made, basis=basis, reasons=(*made.reasons, f"by {basis}"))


def _lowest(measured: Sequence[Compared], prior: Estimate) -> Estimate:
    """The lowest measured flash point, where the model says that there is none."""
    lowest = min(measured, key=lambda c: c.observation.value)
    made = lowest.observation.as_estimate()
    why = "; ".join(prior.notes)
    return made.with_notes(f"the model alone: {why}; {lowest.words()}")


def _note(prior: Estimate, counted: Sequence[Compared]) -> str:
    """ "model alone 34 °C (23 to 52); your measurement: flash point 41 ± 6 °C (...)"."""
    edge = prior.at_the_edge()
    alone = "; ".join(edge.notes)
    if edge.is_ok:
        digits = _DIGITS.get(edge.unit, 3)
        value, low, high = (f"{number:.{digits}f}" for number in edge.interval())
        alone = f"{value} {edge.unit} ({low} to {high})"
    told = [c.words() for c in counted[:MOST_IN_A_NOTE]]
    more = len(counted) - len(told)
    return f"model alone {alone}; you saw: {'; '.join(told)}" + (
        f"; and {more} more" if more else ""
    )
