"""Which questions the accuracy table asks, their targets, and how each is worked out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from blendwright.estimate import per_cent
from blendwright.questions.accuracy import (
    boiling,
    boiling_points,
    crystals,
    densities,
    evaporation,
    flash_points,
    mixture_flash_points,
    odorants,
    split,
    vapour_liquid,
    vapour_pressures,
)
from blendwright.questions.accuracy.conformal import calibrated
from blendwright.questions.accuracy.densities import MEASURED_PAIR
from blendwright.questions.accuracy.left_out import LeftOutFigure, left_out
from blendwright.questions.accuracy.table_lines import Case, Counted, Figures, figures

Better = Literal["low", "high"]


@dataclass(frozen=True)
class Headline:
    """The one number that a question is judged by: what it is, its value, which way is better."""

    what: str
    value: float
    better: Better


@dataclass(frozen=True)
class Answer:
    """One question's figures (or count), the target in words, and whether it is met."""

    question: str
    target: str
    met: bool | None
    headline: Headline
    figures: Figures | None
    counted: Counted | None
    cases: tuple[Case, ...] = ()
    left_out: LeftOutFigure | None = None

    @property
    def count(self) -> int:
        """How many points it is judged by."""
        if self.counted is not None:
            return self.counted.n
        return self.left_out.count if self.left_out else self.figures.n if self.figures else 0

    def to_dict(self) -> dict[str, object]:
        numbers = self.figures.to_dict() if self.figures else None
        unseen = self.left_out.to_dict() if self.left_out else None
        count = self.counted.to_dict() if self.counted else None
        return {
            "question": self.question,
            "target": self.target,
            "met": self.met,
            "headline": {"what": self.headline.what, "value": self.headline.value},
            "figures": numbers,
            "left_out": unseen,
            "counted": count,
        }


# Questions that the fit of the liquid model answers (`left_out`), and their targets
DISSOLVING: dict[str, float | None] = {
    "crystals, nothing known, log10 x": 0.45,
    "crystals, another carrier known, log10 x": 0.42,
    "crystals, another temperature known, log10 x": 0.10,
    "water solubility, log10 mol/L": 0.40,
    "layers of two, ln": None,
}
OVER_LIQUIDS: dict[str, float | None] = {
    "ln gamma at infinite dilution, all (pair left out)": 0.30,
    "ln gamma at infinite dilution, propylene glycol (pair left out)": 0.30,
    "ln gamma at infinite dilution, triacetin (pair left out)": 0.20,
    "ln gamma at infinite dilution, glycerol (pair left out)": 0.75,
    "hydrocarbons in water, water in them, ln gamma": None,
    "vapour, ln P": 0.07,
    "excess enthalpy, kJ/mol": 0.26,
}

Measure = Literal["mean absolute", "root mean square", "worst"]
TARGET_WORDS = {
    "mean absolute": "mean absolute error",
    "root mean square": "root mean square",
    "worst": "the worst within",
}


def _figures(
    question: str,
    unit: str,
    cases: Sequence[Case],
    asked: Measure,
    limit: float | None,
    remark: str = "",
) -> Answer:
    """Judged by one of the three numbers, against a limit or (None) against nothing."""
    found = figures(question, unit, cases)
    value = {
        "mean absolute": found.mean_absolute,
        "root mean square": found.root_mean_square,
        "worst": abs(found.worst[0][1]),
    }[asked]
    words = "none" if limit is None else f"{TARGET_WORDS[asked]} {limit:g} {unit}"
    met = None if limit is None else value <= limit
    target = f"{words} ({remark})" if remark else words
    headline = Headline(f"{asked}, {unit}", value, "low")
    return Answer(question, target, met, headline, found, None, tuple(cases))


def _counted(found: Counted) -> Answer:
    target = f"{per_cent(found.target)} of them"
    headline = Headline("share", found.share, "high")
    return Answer(found.question, target, found.share >= found.target, headline, None, found)


def _left_out(question: str, target: float | None) -> Answer:
    """A shipped figure of the fit: root mean square error on data not used in fitting."""
    found = left_out()[question]
    words = "none" if target is None else f"root mean square {target:g} {found.unit}"
    headline = Headline(f"root mean square, {found.unit}", found.rms, "low")
    met = None if target is None else found.rms <= target
    return Answer(question, words, met, headline, None, None, (), found)


def dissolve() -> list[Answer]:
    """Crystals and layers."""
    rms: Measure = "root mean square"
    return [
        *(_left_out(question, target) for question, target in DISSOLVING.items()),
        _counted(crystals.false_dissolves()),
        *(_counted(count) for count in split.counted()),
        _figures(
            "chance of layers against what is seen (0 or 1)",
            "chance",
            split.chance_cases(),
            rms,
            None,
            "the root of the Brier score; 0.5 is a coin",
        ),
    ]


def fire() -> list[Answer]:
    """Flash points of mixtures and of pure substances, and the safety bounds."""
    cases = mixture_flash_points.cases()
    return [
        _figures(
            "flash points of mixtures, closed cup, read",
            "K",
            [c for c in cases if c.group == "closed cup"],
            "mean absolute",
            2.5,
        ),
        _figures(
            "flash points of mixtures, open cup",
            "K",
            [c for c in cases if c.group == "open cup"],
            "mean absolute",
            None,
            "open cups read higher",
        ),
        _figures(
            "flash points of mixtures, from memory",
            "K",
            [c for c in cases if c.group == "from memory"],
            "mean absolute",
            None,
            "never fitted to",
        ),
        _counted(mixture_flash_points.milder_than_measured()),
        _counted(mixture_flash_points.above_the_safety_bound()),
        _figures(
            "flash points of pure substances, all estimated",
            "K",
            flash_points.cases(),
            "mean absolute",
            3.5,
        ),
        _figures(
            "flash points of pure substances, from the structure alone",
            "K",
            flash_points.drawn_cases(),
            "mean absolute",
            4.5,
        ),
        _counted(flash_points.above_the_safety_bound()),
    ]


def vapour() -> list[Answer]:
    """What the flash and boiling points rest on, and how fast it goes."""
    from_boiling_points = calibrated(vapour_pressures.uncalibrated())
    rms = figures("vapour pressures", "ln P", from_boiling_points).root_mean_square
    return [
        *(_left_out(question, target) for question, target in OVER_LIQUIDS.items()),
        *(
            _figures(
                f"vapour pressures of two-component liquids{words}",
                "ln P",
                [c for c in vapour_liquid.cases() if (c.group == vapour_liquid.DOUBTED) is apart],
                "mean absolute",
                None,
                remark,
            )
            for words, apart, remark in (
                ("", False, "small, much measured molecules"),
                (", doubtful sets", True, "one paper, against measured activity coefficients"),
            )
        ),
        _figures("azeotropes, boiling point at 101.3 kPa", "K", boiling.cases(), "worst", 2.0),
        _figures(
            "boiling points of substances as if not curated (library, else structure)",
            "K",
            boiling_points.uncurated_cases(),
            "mean absolute",
            6.0,
        ),
        _figures(
            "boiling points from the structure alone, molecule left out",
            "K",
            boiling_points.structure_cases(),
            "mean absolute",
            6.0,
        ),
        _figures(
            "vapour pressures at 25 °C, from the boiling point alone",
            "ln P",
            from_boiling_points,
            "mean absolute",
            0.5,
            f"root mean square {rms:.2f}",
        ),
        _figures(
            "vapour pressures at 25 °C, from the structure alone, molecule left out",
            "ln P",
            vapour_pressures.structure_cases(),
            "mean absolute",
            0.5,
        ),
        _figures(
            "evaporation, quiet room",
            "ln rate",
            [c for c in evaporation.cases() if c.group == "quiet room"],
            "worst",
            round(math.log(1.5), 3),
            "a factor 1.5",
        ),
        _figures(
            "evaporation, large pan",
            "ln rate",
            [c for c in evaporation.cases() if c.group == "large pan"],
            "worst",
            None,
            "out of the model's range",
        ),
    ]


def room() -> list[Answer]:
    """Densities."""
    return [
        _figures("densities of pure liquids", "%", densities.pure_cases(), "mean absolute", 0.5),
        *(
            _figures(
                f"densities of blends{words}",
                "%",
                [c for c in densities.blend_cases() if (c.group == MEASURED_PAIR) is measured],
                "mean absolute",
                0.2,
            )
            for words, measured in (
                (", their system left out", False),
                (", a pair measured, other rows of it", True),
            )
        ),
    ]


def materials() -> list[Answer]:
    """Whether a material is known, by its name and by its structure."""
    return [_counted(odorants.found_by_name()), _counted(odorants.fully_estimated())]


QUESTIONS: dict[str, Callable[[], list[Answer]]] = {
    "dissolve": dissolve,
    "burn": fire,
    "vapour": vapour,
    "volume": room,
    "materials": materials,
}
