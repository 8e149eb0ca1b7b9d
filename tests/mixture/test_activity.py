"""The kernel: the same numbers as thermo's own object, and the laws that any model obeys."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from thermo import unifac

from blendwright.catalogue import default_catalogue
from blendwright.errors import MissingGroupPairError
from blendwright.mixture.activity import ActivityModel, activity_model
from blendwright.mixture.parameter_sets import PARAMETER_SETS, missing_pairs

# blends for which each set is complete; Lyngby has no groups in the catalogue
BLENDS = {
    "original": ["ethyl acetate", "propylene glycol", "vanillin", "water", "limonene"],
    "unifac2": ["ethyl acetate", "propylene glycol", "vanillin", "eugenol", "triethyl citrate"],
    "dortmund": ["ethyl acetate", "propylene glycol", "ethanol", "water", "limonene"],
    "dortmund2": ["ethyl butyrate", "propylene glycol", "vanillin", "maltol", "water"],
    "liquid_liquid": ["ethyl acetate", "propylene glycol", "ethanol", "water", "limonene"],
    "nist": ["ethyl acetate", "propylene glycol", "ethanol", "water"],
    "psrk": ["ethyl acetate", "propylene glycol", "ethanol", "water", "limonene"],
}
LYNGBY_GROUPS = [{1: 1, 2: 1, 18: 1}, {14: 1}, {1: 1, 2: 1, 12: 1}]


def groups_for(name: str) -> list[dict[int, int]]:
    if name == "lyngby":
        return LYNGBY_GROUPS
    column = PARAMETER_SETS[name].groups_of
    catalogue = default_catalogue()
    return [dict(catalogue.find(material).groups[column]) for material in BLENDS[name]]


def model_for(name: str) -> ActivityModel:
    return activity_model(PARAMETER_SETS[name], groups_for(name))


def fractions(size: int) -> st.SearchStrategy[np.ndarray]:
    return st.lists(st.floats(0.001, 1.0), min_size=size, max_size=size).map(
        lambda parts: np.array(parts) / sum(parts)
    )


@pytest.mark.parametrize("name", list(PARAMETER_SETS))
@pytest.mark.parametrize("temperature_K", [273.15, 298.15, 373.15])
def test_kernel_equals_thermos_object(name: str, temperature_K: float) -> None:
    groups = groups_for(name)
    rule = PARAMETER_SETS[name]
    x = np.random.default_rng(1).dirichlet(np.ones(len(groups)), size=6)
    ours = activity_model(rule, groups).ln_gamma(x, temperature_K)
    for row, expected in zip(ours, x, strict=True):
        theirs = unifac.UNIFAC.from_subgroups(
            T=temperature_K,
            xs=list(expected),
            chemgroups=groups,
            version=rule.version,
            interaction_data=getattr(unifac, rule.interactions),
            subgroups=getattr(unifac, rule.subgroups),
        ).gammas()
        np.testing.assert_allclose(np.exp(row), theirs, rtol=1e-9)


@pytest.mark.parametrize("name", list(PARAMETER_SETS))
def test_one_temperature_for_each_blend_gives_the_same_as_a_shared_one(name: str) -> None:
    model = model_for(name)
    x = np.random.default_rng(2).dirichlet(np.ones(len(model.r)), size=4)
    each = model.ln_gamma(x, np.array([280.0, 300.0, 320.0, 340.0]))
    for i, temperature in enumerate((280.0, 300.0, 320.0, 340.0)):
        np.testing.assert_allclose(
            each[i], model.ln_gamma(x[i], temperature), rtol=1e-12, atol=1e-13
        )


@pytest.mark.parametrize("name", list(PARAMETER_SETS))
def test_several_temperatures_at_once_give_what_each_gives_alone(name: str) -> None:
    model, kelvins = model_for(name), np.array([260.0, 300.0, 340.0])
    x = np.random.default_rng(5).dirichlet(np.ones(len(model.r)), size=3)
    alone = [model.ln_gamma(own, float(kelvin)) for own, kelvin in zip(x, kelvins, strict=True)]
    np.testing.assert_allclose(model.ln_gamma(x, kelvins), alone, rtol=1e-12, atol=1e-13)


@pytest.mark.parametrize("name", list(PARAMETER_SETS))
def test_a_pure_component_acts_as_itself(name: str) -> None:
    model = model_for(name)
    for i in range(len(model.r)):
        pure = np.zeros(len(model.r))
        pure[i] = 1.0
        assert abs(model.ln_gamma(pure, 298.15)[i]) < 1e-10


@given(x=fractions(5), temperature_K=st.floats(270.0, 400.0))
@pytest.mark.parametrize("name", ["original", "unifac2", "dortmund", "dortmund2", "liquid_liquid"])
def test_gibbs_duhem(name: str, x: np.ndarray, temperature_K: float) -> None:
    """At constant T and p, sum x_i d(ln gamma_i) = 0 along any change of composition."""
    model = model_for(name)
    for i in range(1, 5):
        step = 1e-5 * min(x[0], x[i])
        there, back = x.copy(), x.copy()
        there[0] += step
        there[i] -= step
        back[0] -= step
        back[i] += step
        slope = (model.ln_gamma(there, temperature_K) - model.ln_gamma(back, temperature_K)) / 2
        scale = np.abs(x * slope).max()
        assert abs(float(x @ slope)) <= 1e-5 * scale + 1e-12


@given(x=fractions(5), order=st.permutations(range(5)))
def test_order_of_components_does_not_matter(x: np.ndarray, order: list[int]) -> None:
    groups = groups_for("dortmund2")
    rule = PARAMETER_SETS["dortmund2"]
    straight = activity_model(rule, groups).ln_gamma(x, 300.0)
    mixed = activity_model(rule, [groups[i] for i in order]).ln_gamma(x[order], 300.0)
    np.testing.assert_allclose(mixed, straight[order], rtol=1e-9, atol=1e-12)


def test_a_missing_pair_is_refused_and_named() -> None:
    """Vanillin's phenol and aldehyde groups have no Dortmund pair: never taken as zero."""
    vanillin = default_catalogue().find("vanillin").groups["dortmund"]
    with pytest.raises(MissingGroupPairError, match="ACOH and CHO"):
        activity_model(PARAMETER_SETS["dortmund"], [vanillin, {16: 1}])


def test_the_completed_sets_have_every_pair_that_the_catalogue_needs() -> None:
    catalogue = default_catalogue()
    for name in ("unifac2", "dortmund2"):
        rule = PARAMETER_SETS[name]
        groups = [
            catalogue.material(material).groups[rule.groups_of]
            for material in catalogue.names()
            if rule.groups_of in catalogue.material(material).groups
        ]
        assert missing_pairs(rule, groups) == ()


def test_a_component_without_groups_is_refused() -> None:
    with pytest.raises(ValueError, match="no groups"):
        activity_model(PARAMETER_SETS["original"], [{16: 1}, {}])
