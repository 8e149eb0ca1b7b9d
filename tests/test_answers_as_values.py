"""What is answered is a value: it equals itself asked again, and can stand in a set."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

import blendwright
from blendwright import (
    Formula,
    WarmBath,
    assess,
    bench_sheet,
    compare,
    default_catalogue,
    dose,
    warm,
)
from blendwright.catalogue import beyond
from blendwright.mixture.weighing import weigh
from blendwright.observations import Observation, measured_blend
from blendwright.pure import evidence
from blendwright.questions.advice.advise import advise
from blendwright.questions.advice.carriers import compare_carriers
from blendwright.questions.drink.dosing import Dose
from blendwright.questions.flash_drivers import flash_drivers
from blendwright.questions.volumes.volumes import BenchOrder
from tests.conftest import ESTER_RICH_CONCENTRATE, formula

PEAR = formula(*ESTER_RICH_CONCENTRATE)
FATTER = formula(*ESTER_RICH_CONCENTRATE, ("vanillin", 5.0))
ANSWERS: dict[str, Callable[[Formula], object]] = {
    "assess": assess,
    "warm": lambda f: warm(f, WarmBath(to_K=313.15)),
    "dose": lambda f: dose(f, "water", Dose.of(drops=2.0)),
    "compare": lambda f: compare(assess(f), assess(PEAR)),
    "bench_sheet": lambda f: bench_sheet(f, BenchOrder(scale_to_g=50.0)),
    "flash_drivers": flash_drivers,
    "advise": lambda f: advise(f, flash_above_K=303.15),
    "compare_carriers": lambda f: compare_carriers(f, ["triacetin"]),
    "weigh": lambda f: weigh(f, default_catalogue()),
}


@pytest.mark.parametrize("name", list(ANSWERS))
def test_the_same_question_gives_an_equal_answer(name: str) -> None:
    answer = ANSWERS[name]
    first, again, other = answer(PEAR), answer(PEAR), answer(FATTER)
    assert first == again
    assert hash(first) == hash(again)
    assert first != other


def test_a_material_that_is_made_anew_makes_no_difference() -> None:
    """Materials of the wider library are kept for a while, then made again."""
    blend = formula(("toluene", 1.0), ("propylene glycol", 99.0))
    first = assess(blend)
    for kept in (*vars(beyond).values(), *vars(evidence).values()):
        if hasattr(kept, "cache_clear"):
            kept.cache_clear()
    again = assess(blend)
    assert again.weighing.rows[0].material is not first.weighing.rows[0].material
    assert first == again
    assert hash(first) == hash(again)


def test_a_material_with_other_data_is_another() -> None:
    vanillin = default_catalogue().material("vanillin")
    assert replace(vanillin) == vanillin
    assert replace(vanillin, data=vanillin.data[1:]) != vanillin
    assert vanillin != "vanillin"


def test_an_assessment_with_observations_is_a_value_too() -> None:
    blend = measured_blend(weigh(PEAR, default_catalogue()).composition)
    seen = [Observation("flash_point", 310.0, 6.0, date(2026, 11, 20), blend, "", 101325.0, id=1)]
    first, again = assess(PEAR, observations=seen), assess(PEAR, observations=seen)
    assert first.observations
    assert first == again
    assert hash(first) == hash(again)
    assert first != assess(PEAR)


def test_no_dataclass_compares_arrays_by_truth() -> None:
    """`==` that a dataclass makes of fields that are arrays raises ValueError: such a class says
    how it is compared, or is compared by identity."""
    wrong = []
    for found in pkgutil.walk_packages(blendwright.__path__, "blendwright."):
        if found.name.endswith("__main__"):
            continue
        try:
            module = importlib.import_module(found.name)
        except ImportError:
            continue  # of an extra that is not installed
        wrong += [
            f"{found.name}.{name}.{field.name}"
            for name, one in vars(module).items()
            if isinstance(one, type)
            and one.__module__ == found.name
            and dataclasses.is_dataclass(one)
            and _compares_fields(one)
            for field in dataclasses.fields(one)
            if _is_array(str(field.type))
        ]
    assert not wrong


def _compares_fields(one: type) -> bool:
    """Whether its `==` was written by `dataclass`."""
    made = one.__dict__.get("__eq__")
    return made is not None and made.__code__.co_filename == "<string>"


def _is_array(annotation: str) -> bool:
    words = annotation.replace("[", " ").replace("]", " ").replace(",", " ").split()
    return "Callable" not in words and bool(
        {"Array", "Ints", "Bools", "NDArray", "AnyArray", "np.ndarray"} & set(words)
    )


def test_the_guard_knows_an_array() -> None:
    @dataclasses.dataclass(frozen=True)
    class Holder:
        amounts: np.ndarray

    with pytest.raises(ValueError, match="truth value"):
        bool(Holder(np.ones(2)) == Holder(np.ones(2)))  # from 3.13 on == gives the array
    assert _compares_fields(Holder)
    assert _is_array("np.ndarray")
