"""What each layer holds."""

from __future__ import annotations

import numpy as np
import pytest

from blendwright.catalogue import default_catalogue
from blendwright.mixture.layers import two_layers
from blendwright.mixture.liquid import Liquid
from blendwright.mixture.weighing import weigh
from tests.conftest import formula

PARTING = [
    {"MCT oil": 30.0, "hexyl acetate": 5.0, "water": 65.0},
    {"limonene": 30.0, "beta-caryophyllene": 1.0, "water": 60.0, "glycerol": 10.0},
]


@pytest.mark.parametrize("grams", PARTING, ids=", ".join)
def test_a_trace_in_the_other_layer_is_as_active_as_in_its_own(grams: dict[str, float]) -> None:
    """An oil of which the watery layer holds next to nothing too."""
    composition = weigh(formula(*grams.items()), default_catalogue()).composition
    found = two_layers(composition, 293.15)
    assert found is not None
    np.testing.assert_allclose(found.top_kg + found.bottom_kg, composition.mass_kg, rtol=1e-9)
    model = Liquid(composition.table, composition.part.index).at(293.15)
    moles = np.stack([found.top_kg, found.bottom_kg]) / composition.table.molar_mass_kg_mol
    x = moles / moles.sum(axis=1, keepdims=True)
    top, bottom = (np.log(x) + model.ln_gamma(x[None])[0]).tolist()
    np.testing.assert_allclose(top, bottom, atol=1e-8)
    assert moles.min() < 1e-7 * moles.max()
