"""An iteration that ends before it settled makes the answer unknown, with the reason, for one blend
and in a block. Its last value is never the answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pytest

from blendwright import assess
from blendwright.app.batch.answer_table import columns
from blendwright.estimate import display_name
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture import (
    dissolution,
    evaporation,
    liquid_split,
    machine,
    part_filled,
    settling,
    vapour,
)
from blendwright.mixture.weighing import weigh
from blendwright.pure import roots
from tests.conftest import formula

MIXED = formula(("ethyl acetate", 5), ("ethanol", 20), ("propylene glycol", 75))
CRYSTALS = formula(("vanillin", 12), ("menthol", 25), ("ethanol", 5), ("propylene glycol", 20))
PARTING = formula(("limonene", 50), ("ethanol", 20), ("water", 80))
PARTING_CRYSTALS = formula(("limonene", 20), ("propylene glycol", 40), ("vanillin", 40))

Limits = Callable[[pytest.MonkeyPatch], None]


def _roots(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(roots, "MOST_STEPS", 1)
    patch.setattr(vapour, "SECANT_STEPS", 1)


def _stability(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(liquid_split, "MOST_ITERATIONS", 1)


def _split(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(liquid_split, "SPLIT_ITERATIONS", 1)


def _solids(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(settling, "ROUNDS", 1)


def _solids_and_layers(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(dissolution, "LAYER_ROUNDS", 1)


EXPECTED: Mapping[str, tuple[Limits, object, tuple[str, ...]]] = {
    "roots of the boiling and flash point": (
        _roots, MIXED, ("initial_boiling_point", "flash_point_closed_cup"),
    ),
    "roots of the crystals": (_roots, CRYSTALS, ("dissolution_temperature",)),
    "layers of the vapour": (
        _split, PARTING,
        ("vapour_pressure", "initial_boiling_point", "flash_point_closed_cup"),
    ),
    "solids": (_solids, CRYSTALS, ("dissolved_share",)),
    "solids with layers": (_solids_and_layers, PARTING_CRYSTALS, ("dissolved_share",)),
}  # fmt: skip


@pytest.fixture
def plain_code(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """Machine code has its limits compiled in: the NumPy form is looked at."""
    monkeypatch.setattr(machine, "is_ready", lambda: False)
    return monkeypatch


@pytest.mark.parametrize("what", EXPECTED)
def test_what_did_not_converge_is_unknown_and_says_so(
    what: str, plain_code: pytest.MonkeyPatch
) -> None:
    limits, blend, names = EXPECTED[what]
    limits(plain_code)
    made = assess(blend, ROOM_K)  # type: ignore[arg-type]
    for name in names:
        found = made.estimates[name]
        assert found.status == "unknown", name
        assert found.value is None
        assert "did not converge" in " ".join(found.notes)


@pytest.mark.parametrize("what", EXPECTED)
def test_what_did_not_converge_in_a_block_is_unknown(
    what: str, plain_code: pytest.MonkeyPatch, catalogue: object
) -> None:
    limits, blend, names = EXPECTED[what]
    limits(plain_code)
    questions = frozenset({"vapour", "boiling", "flash", "crystals"})
    weighing = weigh(blend, catalogue)  # type: ignore[arg-type]
    made = columns([weighing], ROOM_K, ATMOSPHERE_Pa, questions)
    for name in names:
        shown = display_name(name)
        assert made[f"{shown}_status"][0] == "unknown", name
        assert np.isnan(made[shown][0])


def test_a_search_for_layers_that_ends_early_tells_no_chance(
    plain_code: pytest.MonkeyPatch, catalogue: object
) -> None:
    """Nothing unstable was found, but not every start had settled: clear is not proven."""
    _stability(plain_code)
    made = assess(MIXED)
    assert made.chance_of_layers is None
    assert made.liquid == "unknown"
    assert made.estimates["cloud_temperature"].status == "unknown"
    weighing = weigh(MIXED, catalogue)  # type: ignore[arg-type]
    block = columns([weighing], ROOM_K, ATMOSPHERE_Pa, frozenset({"layers", "cloud"}))
    assert np.isnan(block["chance_of_layers"][0])
    assert block["cloud_temperature_C_status"][0] == "unknown"


def test_machine_code_tells_which_searches_settled(catalogue: object) -> None:
    from blendwright.mixture.liquid import Liquid
    from blendwright.mixture.machine import layers as compiled

    blend = weigh(MIXED, catalogue).composition  # type: ignore[arg-type]
    model = Liquid(blend.table, blend.part.index).at(ROOM_K)
    assert compiled.stabilities(model, blend.part.x).settled.all()


def test_a_loss_that_needs_too_many_steps_is_unknown(monkeypatch: pytest.MonkeyPatch) -> None:
    from blendwright.errors import NotConvergedError
    from blendwright.mixture.evaporation import Exposure, OpenBeaker, evaporate

    monkeypatch.setattr(evaporation, "MOST_STEPS", 1)
    blend = weigh(MIXED, _catalogue()).composition
    with pytest.raises(NotConvergedError):
        evaporate(blend, Exposure(OpenBeaker(), ROOM_K), 86400.0)


def test_a_part_filled_vessel_that_does_not_settle_is_unknown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from blendwright.errors import NotConvergedError

    monkeypatch.setattr(part_filled, "ROUNDS", 1)
    blend = weigh(MIXED, _catalogue()).composition
    with pytest.raises(NotConvergedError, match="part-filled"):
        part_filled.liquid_in_closed_vessel(blend, ROOM_K, 1e-3)


def _catalogue() -> object:
    from blendwright.catalogue import default_catalogue

    return default_catalogue()
