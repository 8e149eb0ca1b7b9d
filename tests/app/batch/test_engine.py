"""Where a batch asks for its numbers: answers begin at once, whatever the compiler is at."""

from __future__ import annotations

import pytest

from blendwright.app.batch import engine
from blendwright.app.batch.weighed import Weighed
from blendwright.catalogue import default_catalogue
from blendwright.formula import Formula
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture import machine
from blendwright.mixture.weighing import weigh


def pears(count: int) -> Weighed:
    """So many concentrates, each with a little more of the ester than the one before."""
    rows = ({"material": "hexyl acetate"}, {"material": "propylene glycol", "grams": "50"})
    formulas = (
        Formula.from_rows([{**rows[0], "grams": str(1.0 + 0.1 * n)}, rows[1]]) for n in range(count)
    )
    return Weighed.of([("pear", weigh(formula, default_catalogue())) for formula in formulas])


def test_answers_are_told_few_at_a_time_while_machine_code_compiles(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(machine, "prepare", lambda: False)
    monkeypatch.setattr(machine, "is_awaited", lambda: True)
    monkeypatch.setattr(engine, "WHILE_COMPILING", 3)
    told: list[int] = []
    few = engine.computed(pears(8), ROOM_K, ATMOSPHERE_Pa, ("density",), answered=told.append)
    assert told == [3, 5]
    monkeypatch.setattr(machine, "is_awaited", lambda: False)
    whole = engine.computed(pears(8), ROOM_K, ATMOSPHERE_Pa, ("density",), answered=told.append)
    assert told == [3, 5, 8]
    assert few.at.tolist() == whole.at.tolist() == list(range(8))
    assert few.columns["density_g_mL"] == pytest.approx(whole.columns["density_g_mL"], rel=1e-12)


def test_the_rest_goes_together_once_machine_code_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    awaited = iter([True, True, False])
    monkeypatch.setattr(machine, "prepare", lambda: False)
    monkeypatch.setattr(machine, "is_awaited", lambda: next(awaited))
    monkeypatch.setattr(engine, "WHILE_COMPILING", 2)
    told: list[int] = []
    found = engine.computed(pears(8), ROOM_K, ATMOSPHERE_Pa, ("density",), answered=told.append)
    assert told == [2, 6]
    assert found.at.tolist() == list(range(8))
