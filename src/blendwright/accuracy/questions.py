"""Which questions the accuracy table asks, their targets, and how each is worked out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from blendwright.accuracy import (
    activity,
    boiling,
    burn,
    crystals,
    evaporation,
    split,
    water_solubility,
)
from blendwright.accuracy.figures import Case, Counted, Figures, figures


@dataclass(frozen=True)
class Answer:
    """One question's figures (or count), the target in words, and whether it is met."""

    question: str
    target: str
    met: bool | None
    figures: Figures | None
    counted: Counted | None
    cases: tuple[Case, ...] = ()

    def to_dict(self) -> dict[str, object]:
        numbers = self.figures.to_dict() if self.figures else None
        count = self.counted.to_dict() if self.counted else None
        return {
            "question": self.question,
            "target": self.target,
            "met": self.met,
            "figures": numbers,
            "counted": count,
        }


def _figures(
    question: str,
    unit: str,
    cases: Sequence[Case],
    target: str,
    met: Callable[[Figures], bool] | None,
) -> Answer:
    found = figures(question, unit, cases)
    return Answer(question, target, met(found) if met else None, found, None, tuple(cases))


def _counted(found: Counted) -> Answer:
    target = f"{found.target:.0%} of them"
    return Answer(found.question, target, found.share >= found.target, None, found)


def dissolve() -> list[Answer]:
    """Crystals and layers: several minutes of learning with every substance left out once."""
    water = water_solubility.cases()
    plain = crystals.without_anchor()
    given = [c for c in plain if c.name in crystals.given_names()]
    return [
        _figures(
            "water solubility of liquids, from groups",
            "log10 mol/L",
            water,
            "root mean square 0.45 (the aim with learned corrections was 0.35)",
            lambda f: f.root_mean_square <= 0.45,
        ),
        _figures(
            "crystals without a measurement, given tables",
            "log10 x",
            given,
            "root mean square 0.35",
            lambda f: f.root_mean_square <= 0.35,
        ),
        _figures(
            "crystals without a measurement, all that was found",
            "log10 x",
            plain,
            "root mean square 0.35",
            lambda f: f.root_mean_square <= 0.35,
        ),
        _figures(
            "crystals, measured at another temperature",
            "log10 x",
            crystals.anchored_at_another_temperature(),
            "root mean square 0.15",
            lambda f: f.root_mean_square <= 0.15,
        ),
        _figures(
            "crystals, measured in another carrier",
            "log10 x",
            crystals.anchored_in_another_carrier(),
            "root mean square 0.15",
            lambda f: f.root_mean_square <= 0.15,
        ),
        _counted(crystals.false_dissolves()),
        *(_counted(count) for count in split.counted()),
    ]


def fire() -> list[Answer]:
    """Flash points of mixtures, what they rest on, and boiling mixtures."""
    cases = burn.cases()
    called, wrong, which = burn.wrong_side()
    return [
        _figures(
            "flash points of mixtures, closed cup, read",
            "K",
            [c for c in cases if c.group == "closed cup"],
            "mean absolute error 2.5",
            lambda f: f.mean_absolute <= 2.5,
        ),
        _figures(
            "flash points of mixtures, open cup",
            "K",
            [c for c in cases if c.group == "open cup"],
            "none: open cups read higher",
            None,
        ),
        _figures(
            "flash points of mixtures, from memory",
            "K",
            [c for c in cases if c.group == "from memory"],
            "none: never fitted to",
            None,
        ),
        _counted(
            Counted(
                'called "clear of the limit" and not measured in a worse category',
                called - wrong,
                called,
                1.0,
                which,
            )
        ),
        _figures(
            "activity coefficients at infinite dilution",
            "ln gamma",
            activity.cases(),
            "none set; every class's interval at 85 to 95 %",
            None,
        ),
        _figures(
            "azeotropes, boiling point at 101.3 kPa",
            "K",
            boiling.cases(),
            "all within 2",
            lambda f: abs(f.worst[0][1]) <= 2.0,
        ),
        *(
            _figures(
                f"evaporation, {kind}",
                "ln rate",
                [c for c in evaporation.cases() if c.group == kind],
                target,
                met,
            )
            for kind, target, met in (
                ("quiet room", "all within a factor 1.5", _within_a_factor),
                ("large pan", "none: out of the model's range", None),
            )
        ),
    ]


def _within_a_factor(found: Figures) -> bool:
    return abs(found.worst[0][1]) <= math.log(1.5)


QUESTIONS: dict[str, Callable[[], list[Answer]]] = {"dissolve": dissolve, "burn": fire}
