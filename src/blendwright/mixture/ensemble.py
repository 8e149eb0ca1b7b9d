"""Which parameter sets speak for this blend on a question, and with what weight.

No single set serves every question, so each question has an ordered, weighted list in
`ensemble.csv`. Only sets that are complete for the blend are heard: their weights are scaled to
sum to 1, the first of them gives the value, and the spread of all of them feeds the interval.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from blendwright.errors import MissingGroupPairError
from blendwright.mixture.activity import ActivityModel, activity_model
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array

Question = Literal["vapour", "solid", "split"]
Medium = Literal["any", "organic", "water", "spirit"]


@dataclass(frozen=True)
class Rule:
    """One line of ensemble.csv; `bias` and `scale` serve the question of layers (`clarity`)."""

    question: str
    medium: str
    parameter_set: str
    weight: float
    bias: float
    scale: float

    @property
    def is_set(self) -> bool:
        """False for what speaks beside the parameter sets (log-linear cosolvency)."""
        return self.parameter_set in PARAMETER_SETS


@dataclass(frozen=True)
class Voice:
    """One complete parameter set's model, with its share of the weight."""

    model: ActivityModel
    weight: float

    @property
    def title(self) -> str:
        return self.model.parameter_set.title

    @property
    def source(self) -> str:
        return self.model.parameter_set.source


@dataclass(frozen=True, eq=False)
class MeanModel:
    """The weighted mean of several sets' ln(gamma): again a consistent model, as the mean of
    their excess energies."""

    voices: tuple[Voice, ...]

    def ln_gamma(self, mole_fractions: Array, temperature_K: float | Array) -> Array:
        """Shapes as in ActivityModel.ln_gamma."""
        total = self.voices[0].weight * self.voices[0].model.ln_gamma(mole_fractions, temperature_K)
        for voice in self.voices[1:]:
            total = total + voice.weight * voice.model.ln_gamma(mole_fractions, temperature_K)
        return total

    @property
    def title(self) -> str:
        return " and ".join(v.title for v in self.voices)

    @property
    def sources(self) -> tuple[str, ...]:
        return tuple(v.source for v in self.voices)


@cache
def rules() -> tuple[Rule, ...]:
    text = (files("blendwright.mixture") / "ensemble.csv").read_text(encoding="utf-8")
    return tuple(
        Rule(
            row["question"],
            row["medium"],
            row["parameter_set"],
            float(row["weight"]),
            float(row["bias"] or 0.0),
            float(row["scale"] or 0.0),
        )
        for row in csv.DictReader(text.splitlines())
    )


class Ensemble:
    """Every parameter set that is complete for a list of components, built when first asked for."""

    def __init__(self, groups: Sequence[Mapping[str, Mapping[int, int]]]) -> None:
        self._groups = tuple(groups)
        self._models: dict[str, ActivityModel | None] = {}
        self.incomplete: dict[str, str] = {}

    def model(self, name: str) -> ActivityModel | None:
        """One set; None where it lacks groups or a pair (`incomplete` then says which)."""
        if name not in self._models:
            rule = PARAMETER_SETS[name]
            assigned = [component.get(rule.groups_of, {}) for component in self._groups]
            try:
                self._models[name] = activity_model(rule, assigned)
            except (MissingGroupPairError, ValueError) as error:
                self._models[name] = None
                self.incomplete[name] = str(error)
        return self._models[name]

    def voices(self, question: Question, medium: Medium = "any") -> tuple[Voice, ...]:
        """The complete sets for a question, the leading one first, weights summing to 1."""
        heard = [
            (rule, model)
            for rule in rules()
            if rule.question == question and rule.medium == medium and rule.is_set
            if (model := self.model(rule.parameter_set)) is not None
        ]
        total = sum(rule.weight for rule, _ in heard)
        return tuple(Voice(model, rule.weight / total) for rule, model in heard)

    def mean(self, question: Question, medium: Medium = "any") -> MeanModel | None:
        """The complete sets of a question as one model; None where there is none."""
        voices = self.voices(question, medium)
        return MeanModel(voices) if voices else None
