"""What becomes of a formula on a balance of a given resolution?

Each row is rounded to a whole number of divisions, half up; the row that is made up to weight takes
what is left of the rounded total, so that the batch keeps its weight. A division d read at best to
its half leaves an error of d/2 besides, which counts too: a row of fewer than five divisions can't
be weighed to a tenth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from blendwright.assess import Assessment, assess_weighing
from blendwright.catalogue import Catalogue
from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate, display_name, per_cent
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.mixture.weighing import WeighedRow, Weighing
from blendwright.observations.observation import Observation
from blendwright.questions.editing import carriers_of
from blendwright.questions.volumes.weighing_order import make_up_row
from blendwright.verdict import Finding, listed

# All common practice, no source
LARGEST_ERROR = 0.10  # of a row's weight: more is a finding
LEAST_DIVISIONS = 0.5 / LARGEST_ERROR  # half a division is then a tenth of the row
GOOD_DIVISIONS = 20.0  # a dilution is weighed with as many, where the carrier has room for it
STRENGTHS_pct = (10.0, 1.0, 0.1)
MOST_OF_CARRIER = 0.5  # of the largest carrier: the dilutions may bring as much of it, not more
FINEST_g, COARSEST_g = 1e-5, 100.0


class BalanceError(BlendwrightError):
    """A balance that this batch can't be weighed on."""


@dataclass(frozen=True)
class RoundedRow:
    """One row as it can be weighed. `divisions` may be 0: then nothing of it goes in."""

    material: str
    wanted_g: float
    grams: float
    division_g: float
    makes_up: bool

    @property
    def error(self) -> float:
        """Share of the weight wanted that rounding adds or takes away."""
        return self.grams / self.wanted_g - 1.0

    @property
    def reading(self) -> float:
        """Half a division over the weight wanted."""
        return 0.5 * self.division_g / self.wanted_g

    @property
    def is_coarse(self) -> bool:
        return max(abs(self.error), self.reading) > LARGEST_ERROR * (1.0 + 1e-9)

    def to_dict(self) -> dict[str, object]:
        return {
            "material": self.material,
            "wanted_g": self.wanted_g,
            "grams": self.grams,
            "error_pct": self.error * 100.0,
            "reading_pct": self.reading * 100.0,
            "makes_up_to_weight": self.makes_up,
        }


@dataclass(frozen=True)
class RoundingEffect:
    """One number of the assessment before and after rounding."""

    name: str
    wanted: Estimate
    weighed: Estimate

    @property
    def change(self) -> float | None:
        """After less before, in the unit of the estimate; None where either is not a number."""
        if self.wanted.value is None or self.weighed.value is None:
            return None
        return self.weighed.value - self.wanted.value

    @property
    def is_within(self) -> bool:
        """Whether the change is smaller than half of the estimate's own 90 % interval."""
        if self.change is None:
            return self.wanted.status == self.weighed.status
        _, low, high = self.wanted.interval()
        return abs(self.change) <= 0.5 * (high - low)

    def to_dict(self) -> dict[str, object]:
        return {
            "wanted": self.wanted.to_dict(),
            "weighed": self.weighed.to_dict(),
            "is_within_interval": self.is_within,
        }


@dataclass(frozen=True)
class Rounding:
    """The rounded batch, what it does to each number, and what to do about rows too small."""

    division_g: float
    rows: tuple[RoundedRow, ...]
    weighing: Weighing
    effects: tuple[RoundingEffect, ...]
    findings: tuple[Finding, ...]

    @property
    def total_g(self) -> float:
        return float(sum(Decimal(str(row.grams)) for row in self.rows))

    def to_dict(self) -> dict[str, object]:
        return {
            "balance_g": self.division_g,
            "total_g": self.total_g,
            "rows": [row.to_dict() for row in self.rows],
            "effects": {display_name(e.name): e.to_dict() for e in self.effects},
        }


def to_divisions(grams: float, division_g: float) -> float:
    """The nearest weight that the balance can show, half a division up.

    >>> to_divisions(0.125, 0.01), to_divisions(0.3, 0.1), to_divisions(0.004, 0.01)
    (0.13, 0.3, 0.0)
    """
    step = Decimal(str(division_g))
    return float((Decimal(str(grams)) / step).quantize(Decimal(1), ROUND_HALF_UP) * step)


def rounded_rows(weighing: Weighing, division_g: float) -> tuple[RoundedRow, ...]:
    """Each row on that balance; the made-up row takes what is left of the rounded total.

    Raises BalanceError where the balance is out of range, or the batch weighs less than nothing of
    its divisions.
    """
    if not FINEST_g <= division_g <= COARSEST_g:
        raise BalanceError(
            f"a balance of {division_g:g} g is outside {FINEST_g:g} to {COARSEST_g:g} g"
        )
    last = make_up_row(weighing)
    weights = [to_divisions(row.grams, division_g) for row in weighing.rows]
    if last is not None:
        whole_g = float(f"{weighing.total_g:.12g}")  # without what adding up the rows left
        total = Decimal(str(to_divisions(whole_g, division_g)))
        others = sum(Decimal(str(w)) for i, w in enumerate(weights) if i != last)
        weights[last] = max(float(total - others), 0.0)
    if not any(weights):
        raise BalanceError(
            f"on a balance of {division_g:g} g nothing of this batch can be weighed; make a "
            "larger one or use a finer balance"
        )
    return tuple(
        RoundedRow(row.label, row.grams, grams, division_g, index == last)
        for index, (row, grams) in enumerate(zip(weighing.rows, weights, strict=True))
    )


def rounding(
    weighing: Weighing,
    division_g: float,
    catalogue: Catalogue,
    temperature_K: float = BENCH_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    observations: tuple[Observation, ...] = (),
) -> Rounding:
    """Round a batch and assess it again, as `assess` does. Raises BalanceError."""
    rows = rounded_rows(weighing, division_g)
    made = weighing.times_rows([row.grams / row.wanted_g for row in rows])
    before, after = (
        assess_weighing(batch, temperature_K, pressure_Pa, catalogue, observations)
        for batch in (weighing, made)
    )
    effects = tuple(
        RoundingEffect(name, estimate, after.estimates[name])
        for name, estimate in before.estimates.items()
    )
    found = [*_row_findings(rows, weighing), *_verdict_findings(before, after)]
    return Rounding(division_g, rows, made, effects, tuple(found))


def _row_findings(rows: Sequence[RoundedRow], weighing: Weighing) -> list[Finding]:
    pairs = list(zip(rows, weighing.rows, strict=True))
    nothing = [(row, written) for row, written in pairs if row.grams == 0.0]
    coarse = [(row, written) for row, written in pairs if row.is_coarse and row.grams > 0.0]
    found = []
    if nothing:
        told = [f"{row.material} ({row.wanted_g:.3g} g)" for row, _ in nothing]
        found.append(
            Finding(
                "ROW-ROUNDS-TO-ZERO",
                "warning",
                f"On a balance of {rows[0].division_g:g} g these weigh nothing: {listed(told)}.",
                _what_to_do(nothing, weighing),
                tuple(row.material for row, _ in nothing),
            )
        )
    if coarse:
        told = [f"{row.material} ({_coarseness(row)})" for row, _ in coarse]
        found.append(
            Finding(
                "ROW-ROUNDS-COARSELY",
                "caution",
                f"On a balance of {rows[0].division_g:g} g these are off by more than "
                f"{per_cent(LARGEST_ERROR)}, or can't be read to it: {listed(told)}.",
                _what_to_do(coarse, weighing),
                tuple(row.material for row, _ in coarse),
            )
        )
    return found


def _coarseness(row: RoundedRow) -> str:
    if abs(row.error) > LARGEST_ERROR:
        return f"{row.wanted_g:.3g} g becomes {row.grams:g} g"
    return f"{row.wanted_g:.3g} g, read to ±{per_cent(row.reading)}"


def _what_to_do(rows: Sequence[tuple[RoundedRow, WeighedRow]], weighing: Weighing) -> str:
    """Dilutions to weigh instead, each in the carrier; and the batch from which none is needed."""
    carriers = carriers_of(weighing)
    division_g = rows[0][0].division_g
    smallest_g = min(row.wanted_g for row, _ in rows)
    batch_g = weighing.total_g * LEAST_DIVISIONS * division_g / smallest_g
    larger = f"make at least {_two_up(batch_g):g} g"
    if not carriers:
        return f"Make a dilution first, or {larger}."
    wanted = [row.wanted_g for row, _ in rows]
    strengths = dilution_strengths_pct(wanted, division_g, carriers[0].grams)
    if strengths is None:
        return f"The carrier has no room for dilutions: {larger}, or use a finer balance."
    told = [
        f"{100.0 * row.wanted_g / strength:.3g} g of {_diluted(written, strength)}"
        for (row, written), strength in zip(rows, strengths, strict=True)
    ]
    return (
        f"Make dilutions in {carriers[0].material.name} first and weigh {listed(told)}, and as "
        f"much less carrier; or {larger}."
    )


def _diluted(row: WeighedRow, strength_pct: float) -> str:
    """For a row that is a dilution already, the strength in all."""
    if row.strength is not None and row.strength.basis == "mass":
        return f"{row.material.name} at {row.strength.percent * strength_pct / 100.0:g} %"
    return f"{row.label} at {strength_pct:g} %"


def dilution_strengths_pct(
    wanted_g: Sequence[float], division_g: float, carrier_g: float
) -> tuple[float, ...] | None:
    """For each row the strongest usual dilution that has enough divisions.

    As many as leave half of the carrier, GOOD_DIVISIONS first; None where no choice does.

    >>> dilution_strengths_pct([0.05, 0.004], 0.01, 40.0)
    (10.0, 1.0)
    """
    for divisions in (GOOD_DIVISIONS, 0.5 * GOOD_DIVISIONS, LEAST_DIVISIONS):
        chosen = [_strength_pct(grams, divisions * division_g) for grams in wanted_g]
        strengths = tuple(s for s in chosen if s is not None)
        if len(strengths) < len(chosen):
            continue
        diluent_g = sum(
            grams * (100.0 / s - 1.0) for grams, s in zip(wanted_g, strengths, strict=True)
        )
        if diluent_g <= MOST_OF_CARRIER * carrier_g:
            return strengths
    return None


def _strength_pct(wanted_g: float, least_g: float) -> float | None:
    for strength in STRENGTHS_pct:
        if 100.0 * wanted_g / strength >= least_g * (1.0 - 1e-9):
            return strength
    return None


def _two_up(value: float) -> float:
    """Two digits, rounded up."""
    places = 1 - int(f"{value:e}".split("e")[1])
    step = Decimal(10) ** -places
    return float((Decimal(repr(value)) / step).to_integral_value(rounding="ROUND_CEILING") * step)


def _verdict_findings(before: Assessment, after: Assessment) -> list[Finding]:
    changed = [
        f"{what} from {was} to {now}"
        for what, was, now in (
            ("dissolving", before.dissolution, after.dissolution),
            ("the liquid", before.liquid, after.liquid),
            ("the GHS category", before.flammability.treat_as, after.flammability.treat_as),
        )
        if was != now
    ]
    if not changed:
        return []
    return [
        Finding(
            "ROUNDING-CHANGES-VERDICT",
            "warning",
            f"Rounding to the balance changes {listed(changed)}.",
            "Use a finer balance or a larger batch; assess what you weighed.",
        )
    ]
