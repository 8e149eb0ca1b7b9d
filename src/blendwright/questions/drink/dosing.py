"""A concentrate dosed into a drink: does it stay clear, how much may go in, what is in the glass?

    dose(read_formula("formula.csv"), "10 % sugar", Dose.of(drops=2, per_mL=100)).word

Volumes are measured at 20 °C; the drink then stands at 0 to 60 °C. The models are in
`finished_drink`, the words in `verdict.dosing`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate, to_celsius, to_kelvin
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa, temperature_problem
from blendwright.mixture.drink import Drink, parse_drink
from blendwright.mixture.weighing import DROP_mL, Weighing, weigh
from blendwright.observations.observation import Observation
from blendwright.observations.observed_blend import with_observations
from blendwright.questions.drink.finished_drink import (
    DrinkTotals,
    FinishedDrink,
    InDrink,
    largest_clear,
)
from blendwright.verdict import Finding
from blendwright.verdict.blend import Blend
from blendwright.verdict.dosing import (
    ALCOHOL_TAKES_MORE,
    FIRST_TASTING,
    LEFT_OUT_REST,
    LEFT_OUT_SUGAR,
    NATIONAL_LISTS,
    OBSERVED_CONCENTRATE,
    Appearance,
    DoseWord,
    dose_findings,
)
from blendwright.version import __version__

SCHEMA = "blendwright/dose/1"
COLDEST_K, WARMEST_K = to_kelvin(0.0), to_kelvin(60.0)


class DoseError(BlendwrightError):
    """A dose that can't be measured out, or conditions outside the range."""


@dataclass(frozen=True)
class Dose:
    """So much concentrate to so much drink, mL. `drops` is None where mL were asked for."""

    mL: float
    per_mL: float = 100.0
    drops: float | None = None
    drop_mL: float = DROP_mL

    def __post_init__(self) -> None:
        """Raises DoseError unless 0 < mL <= per_mL."""
        if not self.per_mL > 0.0:
            raise DoseError(f"{self.per_mL:g} mL of drink is nothing to dose into")
        if not self.drop_mL > 0.0:
            raise DoseError(f"a drop of {self.drop_mL:g} mL is no drop")
        if not self.mL > 0.0:
            told = f"{self.drops:g} drops" if self.drops is not None else f"{self.mL:g} mL"
            raise DoseError(f"a dose of {told} is nothing to taste; give more than 0")
        if self.mL > self.per_mL:
            raise DoseError(
                f"{self.mL:g} mL of concentrate in {self.per_mL:g} mL of drink is more concentrate "
                "than drink; use `assess` on the blend itself"
            )

    @classmethod
    def of(
        cls,
        drops: float | None = None,
        mL: float | None = None,
        per_mL: float = 100.0,
        drop_mL: float = DROP_mL,
    ) -> Dose:
        """From drops or millilitres. Raises DoseError for neither, both, or what can't be."""
        if (drops is None) == (mL is None):
            raise DoseError(
                "give the dose either in drops (--dose-drops 2) or in millilitres (--dose-mL 0.1)"
            )
        if mL is None:
            assert drops is not None
            return cls(drops * drop_mL, per_mL, drops, drop_mL)
        return cls(mL, per_mL, None, drop_mL)

    @property
    def ratio(self) -> float:
        return self.mL / self.per_mL

    @property
    def words(self) -> str:
        if self.drops is None:
            return f"{self.mL:g} mL in {self.per_mL:g} mL"
        return f"{self.drops:g} drop{'s' * (self.drops != 1)} in {self.per_mL:g} mL"


@dataclass(frozen=True)
class Dosed:
    """All that is said of one dose. Frozen; `to_dict()` is the JSON object.

    `materials` are the pure materials, dilutions taken apart; `rows` the formula's rows as they are
    weighed; `substances` what they are made of. The mg/kg of each add up to the concentrate.
    `largest_clear` is in mL of concentrate per litre of drink; "not_applicable"
    where even 1:1 stays clear.
    """

    weighing: Weighing
    drink: Drink
    dose: Dose
    temperature_K: float
    word: DoseWord
    appearance: Appearance
    first_out: tuple[str, ...]
    uncounted: tuple[str, ...]
    dose_mass: Estimate
    finished: DrinkTotals
    largest_clear: Estimate
    materials: tuple[InDrink, ...]
    rows: tuple[InDrink, ...]
    substances: tuple[InDrink, ...]
    findings: tuple[Finding, ...]
    said: tuple[str, ...]
    sources: tuple[str, ...]
    data_version: str

    @property
    def has_dilutions(self) -> bool:
        """Whether a row as weighed is not a pure material."""
        return any(row.strength is not None for row in self.weighing.rows)

    @property
    def has_warning(self) -> bool:
        return any(finding.severity == "warning" for finding in self.findings)

    def to_dict(self) -> dict[str, object]:
        """The JSON object of the schema blendwright/dose/1."""
        return {
            "schema": SCHEMA,
            "version": __version__,
            "data_version": self.data_version,
            "formula": {
                "name": self.weighing.formula.name,
                "total_g": self.weighing.total_g,
            },
            "drink": self.drink.to_dict(),
            "dose": {
                "mL": self.dose.mL,
                "drops": self.dose.drops,
                "drop_mL": self.dose.drop_mL,
                "per_mL": self.dose.per_mL,
                "mass_g": self.dose_mass.to_dict(),
            },
            "temperature_C": to_celsius(self.temperature_K),
            "verdict": self.word,
            "chance_of_haze": self.appearance.chance,
            "chance_of_undissolved_oil": self.appearance.chance_of_oil,
            "oil_mg_L": self.appearance.oil_kg_m3 * 1e3,
            "oil_floats": self.appearance.floats,
            "crystals": list(self.appearance.crystals),
            "perhaps_crystals": list(self.appearance.perhaps_crystals),
            "first_out": list(self.first_out),
            "uncounted": list(self.uncounted),
            "largest_clear_dose_mL_L": self.largest_clear.to_dict(),
            "finished": self.finished.to_dict(),
            "materials": [one.to_dict() for one in self.materials],
            "rows": [row.to_dict() for row in self.rows],
            "substances": [one.to_dict() for one in self.substances],
            "findings": [finding.to_dict() for finding in self.findings],
            "said": list(self.said),
            "sources": list(self.sources),
        }


def dose(
    formula: Formula,
    into: Drink | str,
    amount: Dose,
    temperature_K: float = BENCH_K,
    *,
    catalogue: Catalogue | None = None,
    observations: Iterable[Observation] = (),
) -> Dosed:
    """Dose a concentrate into a drink.

    Parameters
    ----------
    formula : Formula
        The concentrate.
    into : Drink or str
        The drink, or its words: "water", "40 % vol", "10 % sugar".
    amount : Dose
        So much concentrate to so much drink, mL.
    temperature_K : float
        The drink's, 0 to 60 °C.
    catalogue : Catalogue, optional
        Where materials are found; the one that ships with blendwright unless given.
    observations : iterable of Observation
        The person's own (`read_observations`); none are read unless given.
        A measured density counts, as in `assess`: how the concentrate itself looked tells nothing
        of a drink.

    Returns
    -------
    Dosed

    Raises
    ------
    FormulaError
        With every problem of the formula.
    DrinkError
        For a drink that can't be read, or a concentrate without a density.
    DoseError
        For a temperature outside the range.
    """
    problem = temperature_problem("temperature_K", temperature_K, COLDEST_K, WARMEST_K)
    if problem is not None:
        raise DoseError(problem)
    catalogue = catalogue or default_catalogue()
    drink = parse_drink(into) if isinstance(into, str) else into
    # made of 20 °C measures: the formula's own drops are those of the dose
    weighing = weigh(formula, catalogue, amount.drop_mL)
    alone = Blend(weighing, BENCH_K, ATMOSPHERE_Pa)
    concentrate, compared = with_observations(alone, observations, catalogue)
    glass = FinishedDrink(weighing, drink, temperature_K, catalogue, concentrate.density)
    seen = glass.at(amount.ratio)
    word = seen.appearance.word
    return Dosed(
        weighing=weighing,
        drink=drink,
        dose=amount,
        temperature_K=temperature_K,
        word=word,
        appearance=seen.appearance,
        first_out=seen.first_out,
        uncounted=glass.uncounted,
        dose_mass=_mass(amount, glass.density),
        finished=glass.finished(amount.ratio),
        largest_clear=largest_clear(glass),
        materials=glass.materials(amount.ratio),
        rows=glass.rows(amount.ratio),
        substances=glass.substances(amount.ratio),
        findings=tuple(dose_findings(word, seen.appearance, seen.first_out, glass.uncounted)),
        said=(*_said(drink), *((OBSERVED_CONCENTRATE,) if compared else ())),
        sources=tuple(dict.fromkeys((*seen.sources, *glass.sugar_sources))),
        data_version=catalogue.version(),
    )


def _mass(amount: Dose, density: Estimate) -> Estimate:
    value, low, high = density.interval()
    cubic = amount.mL * 1e-6
    return Estimate.ok(
        cubic * value, cubic * low, cubic * high, "kg", "volume times density", density.sources
    )


def _said(drink: Drink) -> tuple[str, ...]:
    assumed = f"{drink.name} is taken as {drink.assumed}." if drink.assumed else ""
    sugar = LEFT_OUT_SUGAR if drink.sugar_pct_mass > 0.0 else ""
    told = (assumed, sugar, LEFT_OUT_REST, FIRST_TASTING, ALCOHOL_TAKES_MORE, NATIONAL_LISTS)
    return tuple(sentence for sentence in told if sentence)
