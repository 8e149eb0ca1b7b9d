"""One thing that the person saw or measured of one blend.

A number (flash point, density, boiling point, where the last crystals went, where it clouded on
cooling) or a look ("clear at 22 °C", "cloudy at 5 °C", where the value is the temperature). Values
are in SI, `half_width` is half of a 90 % interval. What is usual for a bench stands in `KINDS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from blendwright.errors import FormulaError, Problem
from blendwright.estimate import NORMAL_90, Estimate, to_celsius, to_kelvin
from blendwright.formula.conditions import BENCH_K, LAST_DIGIT
from blendwright.formula.numbers import parse_number, why_no_number
from blendwright.mixture.composition import Composition

REPRODUCIBILITY_OVER_SD = 2.77  # 1.96 times the square root of 2 (ISO 5725-6)
# ISO 2719, ASTM D93, ISO 3679, ISO 13736: reproducibility 4 to 10 °C, repeatability 2 to 5 °C. A
# bench test is no accredited one: the wide end, and no better than the repeatability.
FLASH_REPRODUCIBILITY_K = 10.0
FLASH_REPEATABILITY_K = 2.0
FLASH_HALF_K = NORMAL_90 * FLASH_REPRODUCIBILITY_K / REPRODUCIBILITY_OVER_SD
DENSITY_HALF_kg_m3 = 1.0  # 0.001 g/mL by weighing a known volume (common practice, no source)
BOILING_HALF_K = 2.0  # thermometer and first steady bubbles (common practice, no source)
LOOK_HALF_K = 2.0  # of a bath's or bottle's temperature (common practice, no source)
LONGEST_NOTE = 500


@dataclass(frozen=True)
class ObservationKind:
    """One question that an observation answers, and what is usual for it.

    `half` is the usual 90 % half-width; `low` and `high` bound the value, `least_half` and
    `most_half` what the person may claim, all in SI.
    """

    question: str
    option: str
    label: str
    unit: str
    low: float
    high: float
    half: float
    least_half: float
    most_half: float


KINDS: Mapping[str, ObservationKind] = MappingProxyType(
    {
        kind.question: kind
        for kind in (
            ObservationKind("clear", "--clear-at-C", "clear at", "K", 233.15, 423.15, LOOK_HALF_K,
                0.1, 10.0),
            ObservationKind("cloudy", "--cloudy-at-C", "cloudy at", "K", 233.15, 423.15,
                LOOK_HALF_K, 0.1, 10.0),
            ObservationKind("cloud_point", "--cloud-point-C", "clouds on cooling at", "K", 233.15,
                423.15, LOOK_HALF_K, 0.1, 10.0),
            ObservationKind("crystals_gone", "--dissolved-at-C", "fully dissolved at", "K", 233.15,
                423.15, LOOK_HALF_K, 0.1, 20.0),
            ObservationKind("flash_point", "--flash-C", "flash point", "K", 213.15, 623.15,
                FLASH_HALF_K, FLASH_REPEATABILITY_K, 40.0),
            ObservationKind("boiling_point", "--boiling-C", "boiling point", "K", 253.15, 673.15,
                BOILING_HALF_K, 0.1, 40.0),
            ObservationKind("density", "--density", "density", "kg/m3", 500.0, 2000.0,
                DENSITY_HALF_kg_m3, 0.01, 50.0),
        )
    }
)  # fmt: skip
"""In the order of the report. The bounds keep out slips of the pen (own rule)."""


@dataclass(frozen=True)
class MeasuredBlend:
    """Substances by name with their mass fractions, and which came as a liquid as sold."""

    shares: tuple[tuple[str, float], ...]
    liquid_as_sold: tuple[str, ...] = ()


@dataclass(frozen=True)
class Observation:
    """`temperature_K` is that of a density; `id` is the store's, None before it is kept."""

    question: str
    value: float
    half_width: float
    seen_on: date
    blend: MeasuredBlend
    formula: str
    pressure_Pa: float
    temperature_K: float | None = None
    note: str = ""
    id: int | None = None

    @property
    def kind(self) -> ObservationKind:
        return KINDS[self.question]

    @property
    def is_look(self) -> bool:
        """Whether it answers "clear or cloudy" and no number's question."""
        return self.question in ("clear", "cloudy", "cloud_point")

    @property
    def source(self) -> str:
        """The key of this observation in lists of sources."""
        return f"yours: measurement {self.id} of {self.seen_on.isoformat()}"

    def as_estimate(self) -> Estimate:
        """The value with what its half-width says."""
        return Estimate.ok(
            self.value,
            self.value - self.half_width,
            self.value + self.half_width,
            self.kind.unit,
            "your measurement",
            (self.source,),
        )

    def words(self) -> str:
        """ "flash point 41 ± 6 °C"; "clear at 22 °C"."""
        shown = self.as_estimate().in_display_units()
        value, low, _ = shown.interval()
        digits = 4 if shown.unit == "g/mL" else 0 if value == round(value) else 1
        text = f"{self.kind.label} {value:.{digits}f}"
        if not self.is_look:
            text += f" ± {value - low:.{max(digits, 0)}f}"
        text += f" {shown.unit}"
        if self.temperature_K is not None:
            text += f" at {to_celsius(self.temperature_K):.0f} °C"
        return text

    def to_dict(self) -> dict[str, object]:
        """The JSON form, in the units that people read."""
        shown = self.as_estimate().in_display_units()
        value, low, _ = shown.interval()
        return {
            "id": self.id,
            "question": self.question,
            "value": round(value, 6),
            "plus_or_minus": round(value - low, 6),
            "unit": shown.unit,
            "at_C": None
            if self.temperature_K is None
            else round(to_celsius(self.temperature_K), 6),
            "pressure_kPa": self.pressure_Pa / 1e3,
            "date": self.seen_on.isoformat(),
            "note": self.note,
            "formula": self.formula,
            "mass_fractions": dict(self.blend.shares),
        }


def measured_blend(composition: Composition) -> MeasuredBlend:
    """What is kept of a blend: names and mass fractions."""
    return MeasuredBlend(
        tuple(
            (name, float(share))
            for name, share in zip(composition.names, composition.mass_fractions, strict=True)
        ),
        tuple(sorted(composition.liquid_as_sold)),
    )


@dataclass(frozen=True)
class Typed:
    """What the person typed for one question: value, ± and, for a density, at what temperature."""

    question: str
    value: str
    plus_or_minus: str | None = None
    at_K: float | None = None


@dataclass(frozen=True)
class Circumstances:
    """Which blend was observed, when, at what air pressure, and what the person adds to it."""

    blend: MeasuredBlend
    formula: str
    seen_on: date
    pressure_Pa: float
    note: str = ""


def observations_of(typed: list[Typed], about: Circumstances) -> tuple[Observation, ...]:
    """Check what was typed. Raises FormulaError with every problem, in plain words."""
    problems: list[Problem] = []
    made = [_observation(one, about, problems) for one in typed]
    if not typed:
        options = ", ".join(kind.option for kind in KINDS.values())
        problems.append(Problem(f"nothing was observed; give at least one of {options}"))
    if len(about.note) > LONGEST_NOTE:
        problems.append(Problem(f"--note is longer than {LONGEST_NOTE} letters"))
    found = tuple(one for one in made if one is not None)
    looks = {one.question: one.value for one in found}
    if "clear" in looks and "cloudy" in looks and looks["clear"] <= looks["cloudy"]:
        problems.append(
            Problem(
                "clear at a temperature where, or below which, it is cloudy; one of the two is a "
                "slip (if it really clouds on warming, record the two in two commands)"
            )
        )
    if problems:
        raise FormulaError("observe", problems)
    return found


def _observation(typed: Typed, about: Circumstances, problems: list[Problem]) -> Observation | None:
    kind = KINDS[typed.question]
    value = _number(typed.value, kind.option, kind, problems)
    half = kind.half
    if typed.plus_or_minus is not None:
        claimed = _number(typed.plus_or_minus, f"the ± of {kind.option}", None, problems)
        if claimed is None:
            return None
        half = claimed * _scale(kind)
        if not kind.least_half <= half <= kind.most_half:
            least, most = kind.least_half / _scale(kind), kind.most_half / _scale(kind)
            problems.append(
                Problem(f"the ± of {kind.option} must lie between {least:g} and {most:g}")
            )
            return None
    if value is None:
        return None
    at_K = typed.at_K if kind.question != "density" else (typed.at_K or BENCH_K)
    return Observation(
        question=kind.question,
        value=value,
        half_width=half,
        seen_on=about.seen_on,
        blend=about.blend,
        formula=about.formula,
        pressure_Pa=about.pressure_Pa,
        temperature_K=at_K,
        note=about.note,
    )


def _scale(kind: ObservationKind) -> float:
    return 1e3 if kind.unit == "kg/m3" else 1.0


def _number(
    text: str, option: str, kind: ObservationKind | None, problems: list[Problem]
) -> float | None:
    """In SI where a kind is given."""
    number = parse_number(text)
    if number is None:
        problems.append(Problem(f"{option}: {why_no_number(text, like='41 or 1.021')}"))
        return None
    if kind is None:
        return number
    si = number * 1e3 if kind.unit == "kg/m3" else to_kelvin(number)
    if not kind.low - LAST_DIGIT <= si <= kind.high + LAST_DIGIT:
        ends = (
            f"{kind.low / 1e3:g} and {kind.high / 1e3:g} g/mL"
            if kind.unit == "kg/m3"
            else f"{to_celsius(kind.low):g} and {to_celsius(kind.high):g} °C"
        )
        problems.append(Problem(f"{option}: {text} must lie between {ends}"))
        return None
    return si
