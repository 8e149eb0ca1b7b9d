"""Which observations speak of this blend, and what does the model say of the blends measured?

An observation is compared where its blend lies within REACH (`similarity`) of the present one. The
measured blend is assessed by today's model at the conditions of the measurement, so that residuals
are never stale. A measured blend with a material that nobody knows any more is shown, not counted.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from blendwright.catalogue import Catalogue, Material
from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.dissolution import crystallises
from blendwright.mixture.excess.measurement import Measurement
from blendwright.mixture.weighing import WeighedRow, Weighing, resolve
from blendwright.observations.bayesian_update import Residual
from blendwright.observations.crystal_rows import crystal_rows, model_correlation
from blendwright.observations.layer_correlation import doubt, layer_correlation
from blendwright.observations.observation import MeasuredBlend, Observation
from blendwright.observations.similarity import (
    REACH,
    SAME_DISTANCE,
    Features,
    correlation,
    fading,
    features_of,
    mass_shares,
    reach_of,
    similarity_word,
)
from blendwright.observations.visual_observations import VisualObservation
from blendwright.verdict.blend import Blend

BATCH_g = 100.0  # any: the answers don't depend on it
MOST_KEPT = 64  # measured blends whose answers are kept; then all are let go

_Key = tuple[MeasuredBlend, float, float, tuple[int, ...]]
_measured: dict[_Key, Blend] = {}
_rows: dict[tuple[int, float, float], tuple[Measurement, ...]] = {}


@dataclass(frozen=True)
class Compared:
    """One observation beside the present blend.

    `model` is the estimate for the measured blend (of a number), `visual_observations` what a look
    says, `rows` what a crystal's solubility adds to the fit of the liquid model, and `follows` how
    far the model's errors there and here go together; `why_not` is empty where it can be counted.
    """

    observation: Observation
    features: Features
    distance: float
    model: Estimate | None = None
    visual_observations: tuple[VisualObservation, ...] = ()
    rows: tuple[Measurement, ...] = ()
    follows: float = 0.0
    why_not: str = ""

    @property
    def correlation(self) -> float:
        if self.visual_observations:
            return max(look.correlation for look in self.visual_observations)
        return self.follows if self.rows else correlation(self.distance)

    @property
    def is_same_blend(self) -> bool:
        return self.distance <= SAME_DISTANCE

    @property
    def similarity(self) -> str:
        return similarity_word(self.distance)

    @property
    def residual(self) -> Residual | None:
        """None where the model has no number for the measured blend."""
        if self.model is None or not self.model.is_ok:
            return None
        one = self.observation
        return Residual(one.value, one.half_width, self.model, self.correlation)

    @property
    def disagrees(self) -> bool:
        """What was seen lies outside the model's 90 % interval for that blend."""
        if self.visual_observations:
            return any(seen.disagrees for seen in self.visual_observations)
        if self.residual is not None:
            return self.residual.disagrees
        return self.model is not None and self.model.status in ("not_applicable", "out_of_range")

    def words(self) -> str:
        """ "flash point 41 ± 6 °C (2026-11-20, same blend)"."""
        return (
            f"{self.observation.words()} ({self.observation.seen_on.isoformat()}, "
            f"{self.similarity})"
        )

    def to_dict(self) -> dict[str, object]:
        there = self.observation.to_dict()
        del there["mass_fractions"]
        return {
            **there,
            "distance": self.distance,
            "similarity": self.similarity,
            "correlation": self.correlation,
            "model_there": self.model.to_dict() if self.model is not None else None,
            "chance_of_layers_there": [seen.chance_there for seen in self.visual_observations],
            "disagrees": self.disagrees,
            "why_not_counted": self.why_not,
        }


def compare(
    blend: Blend, observations: Iterable[Observation], catalogue: Catalogue
) -> tuple[Compared, ...]:
    """Every observation in reach, the most alike first. Raises nothing.

    One of crystals reaches every blend that holds the crystal measured.
    """
    here = mass_shares(blend)
    known = {s.name: s.material for s in blend.all_components.substances}
    found = []
    for one in observations:
        by_mass = Features(dict(one.blend.shares), {})
        apart = by_mass.distance(Features(here, {}))
        of_crystals = one.question == "crystals_gone"
        reaches = of_crystals and shares_a_crystal(one.blend, blend.all_components)
        if apart > reach_of(one.question) and not reaches:
            continue
        try:
            there = _blend_there(one, blend, known, catalogue)
        except BlendwrightError as error:
            found.append(Compared(one, by_mass, apart, why_not=str(error)))
            continue
        if of_crystals:
            found += _crystal_compared(one, there, blend, Compared(one, by_mass, apart))
            continue
        features = features_of(there, one.question)
        distance = features.distance(features_of(blend, one.question))
        if distance <= reach_of(one.question):
            found.append(_compared(one, there, blend, features, distance))
    return tuple(sorted(found, key=lambda c: (c.distance, c.observation.id or 0)))


def _blend_there(
    one: Observation,
    blend: Blend,
    known: dict[str, Material],
    catalogue: Catalogue,
) -> Blend:
    """The measured blend of these very materials; its answers are kept, as a dilution, a map or a
    batch compares many blends with it."""
    temperature_K = one.value if one.is_look else one.temperature_K or blend.temperature_K
    materials = {
        name: known[name] if name in known else resolve(name, catalogue)
        for name, _ in one.blend.shares
    }
    key = (one.blend, temperature_K, one.pressure_Pa, tuple(map(id, materials.values())))
    if key not in _measured:
        if len(_measured) >= MOST_KEPT:
            _measured.clear()
            _rows.clear()
        _measured[key] = Blend(_weighing(one.blend, materials), temperature_K, one.pressure_Pa)
    return _measured[key]


def _weighing(blend: MeasuredBlend, materials: dict[str, Material]) -> Weighing:
    """The measured blend as if weighed from its substances."""
    rows = tuple(
        WeighedRow(name, m, None, None, share * BATCH_g, ((m, 1.0),), "", "", ())
        for name, share in blend.shares
        for m in (materials[name],)
    )
    parts = [(row.material, row.grams / 1e3, number) for number, row in enumerate(rows)]
    composition = compose(parts, frozenset(blend.liquid_as_sold))
    return Weighing(Formula("a measured blend", ()), rows, composition, ())


def _compared(
    one: Observation, there: Blend, blend: Blend, features: Features, distance: float
) -> Compared:
    made = Compared(one, features, distance)
    if one.is_look:
        seen = _visual_observations(one, there, blend, distance)
        why = "" if seen else "the model can't tell the layers of the measured blend"
        return replace(made, visual_observations=seen, why_not=why)
    model = {
        "density": lambda: there.density,
        "boiling_point": lambda: there.boiling,
        "flash_point": lambda: there.flash.estimate,
    }[one.question]()
    why = "" if model.is_ok else f"no estimate for the measured blend: {'; '.join(model.notes)}"
    made = replace(made, model=model, why_not=why)
    if made.residual is not None and not made.residual.is_of_use:
        return replace(made, why_not="the model gives only a bound for the measured blend")
    return made


def shares_a_crystal(measured: MeasuredBlend, whole: Composition) -> bool:
    """Whether a blend holds a crystal of the measured one."""
    names = {name for name, _ in measured.shares}
    return any(s.name in names and crystallises(s.fusion, BENCH_K) for s in whole.substances)


def _crystal_compared(
    one: Observation, there: Blend, blend: Blend, bare: Compared
) -> tuple[Compared, ...]:
    """Where the last crystals of the measured blend dissolved; nothing where it is of other
    crystals than the present blend's."""
    model = there.last_crystal
    if not model.is_ok:
        why = f"no estimate for the measured blend: {'; '.join(model.notes)}"
        return (replace(bare, model=model, why_not=why),) if bare.distance <= REACH else ()
    key = (id(there), one.value, one.half_width)
    try:
        if key not in _rows:
            _rows[key] = crystal_rows(there.modelled_components, one.value, one.half_width)
    except (BlendwrightError, ValueError) as error:
        return (replace(bare, model=model, why_not=str(error)),) if bare.distance <= REACH else ()
    rows = _rows[key]
    mine = [row for row in rows if row.pures[row.crystal].name in blend.modelled_components.names]
    if not mine:
        return ()
    follows = model_correlation(mine[0], blend.modelled_components)
    return (replace(bare, model=model, rows=rows, follows=follows),)


def _visual_observations(
    one: Observation, there: Blend, blend: Blend, distance: float
) -> tuple[VisualObservation, ...]:
    ends = {
        "clear": ((True, one.value),),
        "cloudy": ((False, one.value),),
        "cloud_point": ((True, one.value + one.half_width), (False, one.value - one.half_width)),
    }[one.question]
    chances = [(is_clear, at_K, there.chance_of_split(at_K)) for is_clear, at_K in ends]
    alike = correlation(distance)
    return tuple(
        VisualObservation(
            is_clear,
            at_K,
            chance,
            fading(distance)
            * layer_correlation(
                doubt(there.modelled_components, at_K),
                doubt(blend.modelled_components, at_K),
                alike,
            ),
        )
        for is_clear, at_K, chance in chances
        if chance is not None
    )
